"""What a run writes down: every line goes to the log, from there to the judge, and the verdicts back to the log."""

from __future__ import annotations

from collections.abc import Callable

from stagecall.errors import LogFullError
from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Header, VerdictLine
from stagecall.record import Log


class Ledger:
    """Log and judge together; ``show`` is told each line as it was written."""

    def __init__(self, log: Log, judge: Judge, header: Header, show: Callable[[AnyLine], None] | None = None) -> None:
        self.log = log
        self.header = header
        self.judge = judge
        self.verdicts: list[VerdictLine] = []
        self.events = 0
        self._show = show
        self._told_full = False
        judge.feed(header)

    def put(self, line: AnyLine) -> None:
        """Write a line, let it be judged, and write what was settled by it."""
        written = self.log.append(line)
        if self._show is not None:
            self._show(written)
        if verdicts := self.judge.feed(written):
            self._keep(verdicts)

    def passed(self, t: int) -> None:
        """Time has come to *t* (ms): what must not wait for the disk any longer goes there.

        Raises:
            LogFullError: the disk is full; what ends the run can still be written. Raised once.
            LogWriteError: that too is written no more.
        """
        self.log.passed(t)
        if self.log.full and not self._told_full:
            self._told_full = True
            raise LogFullError(f"The disk is full; the log {self.log.path} is closed in its reserve.")

    def close(self) -> str:
        """The last verdicts and the closing seal; gives the log's digest."""
        self._keep(self.judge.finish(closed=True))
        return self.log.close()

    def _keep(self, verdicts: list[VerdictLine]) -> None:
        for verdict in verdicts:
            written = self.log.append(verdict)
            assert isinstance(written, VerdictLine)  # noqa: S101 - the log gives back what it was given
            self.verdicts.append(written)
            if self._show is not None:
                self._show(written)
