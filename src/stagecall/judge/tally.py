"""What many instances of one expectation came to: counts, the first that did not pass, the worst. Memory is flat."""

from __future__ import annotations

from stagecall.judge.watch import Outcome, not_applicable, unverified
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Range

MOST_LINES = 5


class Tally:
    """Instances counted as they settle."""

    __slots__ = ("_doubt", "_dropped", "_fault", "_worst", "failed", "instances", "lost", "unusual")

    def __init__(self) -> None:
        self.instances = self.failed = self.lost = 0
        self._dropped = False
        self.unusual: bool | None = None
        self._fault: Outcome | None = None
        self._doubt: Outcome | None = None
        self._worst: Outcome | None = None

    def add(self, outcome: Outcome) -> None:
        """Count an instance."""
        if outcome.verdict is Verdict.NOT_APPLICABLE:
            self._dropped = True
            return
        self.instances += 1
        if outcome.verdict is Verdict.FAIL:
            self.failed += 1
            self._fault = self._fault or outcome
        elif outcome.verdict is not Verdict.PASS:
            self._doubt = self._doubt or outcome
        if outcome.usual is not None:
            self.unusual = bool(self.unusual) or not outcome.usual
        self.compare(outcome)

    def compare(self, outcome: Outcome) -> None:
        """Keep what was observed if it is the worst so far."""
        if outcome.margin is not None and (
            self._worst is None or self._worst.margin is None or outcome.margin < self._worst.margin
        ):
            self._worst = outcome

    def outcome(self, *, cut: str, monitor: bool, must_run: bool, remark: str) -> Outcome:
        """What it all came to."""
        if self.lost:
            lost = f"{self.lost} across a gap not counted"
            remark = f"{remark}; {lost}" if remark else lost
        if not self.instances:
            if self._dropped and not must_run:
                return not_applicable("set aside each time it came up")
            if cut and not monitor:
                return unverified(Reason.CUT_SHORT, cut)
            return Outcome(
                Verdict.NOT_VERIFIED, Reason.NEVER_CAME_UP, remark=remark, instances=0, failed=0,
                counted=not monitor or must_run,
            )  # fmt: skip
        shown = self._fault or self._doubt
        worst = self._worst
        lines = tuple(dict.fromkeys((shown.lines if shown else ()) + (worst.lines if worst else ())))[:MOST_LINES]
        observed: Range | None = worst.observed if worst else shown.observed if shown else None
        passed = shown is None
        if passed and self.unusual:
            remark = f"passed, outside usual; {remark}" if remark else "passed, outside usual"
        return Outcome(
            shown.verdict if shown else Verdict.PASS,
            shown.reason if shown else None,
            shown.detail if shown else "",
            observed,
            worst.margin if worst else None,
            usual=None if self.unusual is None or not passed else not self.unusual,
            remark=remark, lines=lines, instances=self.instances, failed=self.failed,
        )  # fmt: skip
