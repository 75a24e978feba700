"""The person at the screen during a run: what is typed, Ctrl-C, and progress on stderr.

What a person types is read line by line, as the terminal hands it over, without waiting for it: with ``select`` where
there is one, else by a thread. From a pipe nothing is read.
"""

from __future__ import annotations

import os
import queue
import select
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from types import FrameType
from typing import Any, Protocol

from stagecall.cli.progress import Progress
from stagecall.model.event import AnyLine


class Typist(Protocol):
    """Where typed lines come from."""

    def typed(self) -> list[str]:
        """Whole lines typed since the last look; never waits."""


class Nobody:
    """No terminal to type at."""

    def typed(self) -> list[str]:
        """Nothing, ever."""
        return []


class BySelect:
    """Lines typed at a terminal that ``select`` can watch."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._rest = b""
        self._open = True

    def typed(self) -> list[str]:
        """Whole lines typed since the last look."""
        while self._open and select.select([self._descriptor], [], [], 0)[0]:
            chunk = os.read(self._descriptor, 4096)
            self._open = bool(chunk)
            self._rest += chunk
        *lines, self._rest = self._rest.split(b"\n")
        return [line.decode(errors="replace").strip() for line in lines]


class ByThread:
    """Lines typed where only files of the network kind can be watched: a thread of its own waits for them."""

    def __init__(self, readline: Callable[[], str]) -> None:
        self._lines: queue.SimpleQueue[str] = queue.SimpleQueue()
        threading.Thread(target=self._listen, args=(readline,), daemon=True).start()

    def _listen(self, readline: Callable[[], str]) -> None:
        while line := readline():
            self._lines.put(line.strip())

    def typed(self) -> list[str]:
        """Whole lines typed since the last look."""
        lines = []
        with suppress(queue.Empty):
            while True:
                lines.append(self._lines.get_nowait())
        return lines


def typist() -> Typist:
    """Whoever sits at stdin."""
    if not sys.stdin.isatty():
        return Nobody()
    if sys.platform == "win32":
        return ByThread(sys.stdin.readline)
    return BySelect(sys.stdin.fileno())


class Screen:
    """The console of a run (see :class:`stagecall.run.loop.Console`)."""

    def __init__(self, progress: Progress, typist: Typist, also: Callable[[AnyLine], None]) -> None:
        """*also* is told every line too: the record is gathered from them."""
        self._progress = progress
        self._typist = typist
        self._also = also
        self._heard = self._untold = 0

    def show(self, line: AnyLine) -> None:
        """A line was written to the log."""
        self._also(line)
        self._progress.show(line)

    def typed(self) -> list[str]:
        """Whole lines typed since the last look; never waits."""
        return self._typist.typed()

    def interrupted(self) -> bool:
        """Whether Ctrl-C was pressed; once for each time."""
        if not self._untold:
            return False
        self._untold -= 1
        return True

    def tell(self, text: str) -> None:
        """Say something to the person."""
        self._progress.tell(*text.splitlines())

    def alarm(self, text: str) -> None:
        """Fill the screen with an order."""
        self._progress.alarm(text)

    @contextmanager
    def listening(self) -> Iterator[None]:
        """Ctrl-C and a request to end are taken note of here, and do not strike wherever the program happens to be.

        A third one ends the program at once, whatever is still called.
        """
        before: dict[int, Any] = {}
        try:
            for number in (signal.SIGINT, signal.SIGTERM):
                with suppress(ValueError):  # not the main thread: somebody else listens
                    before[number] = signal.signal(number, self._note)
            yield
        finally:
            for taken, handler in before.items():
                signal.signal(taken, handler)
            self._progress.finish()

    def _note(self, _signal: int, _frame: FrameType | None) -> None:
        self._heard += 1
        self._untold += 1
        if self._heard > 2:
            raise KeyboardInterrupt
        self._progress.tell("Breaking off: all calls go off first." if self._heard == 1 else "Still breaking off.")
