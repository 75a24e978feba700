"""Times in which several conditions hold together, grown over partings shorter than what is tolerated. All in ms."""

from __future__ import annotations

import msgspec


class Stretch(msgspec.Struct):
    """One time: its begin, its end where it is over, the lines that tell both, and a point not known in it."""

    begin: int
    lines: tuple[int, ...]
    dark: str = ""
    end: int = 0


class Together(msgspec.Struct, frozen=True):
    """Stretches grown together."""

    length: int
    lines: tuple[int, ...]
    dark: str


class Stretches:
    """One stretch after another.

    What is told later can still shorten one that is over, so it counts only once everything up to its end is told.
    """

    __slots__ = ("_dark", "_last", "_start", "_tolerate", "_waiting", "count", "now")

    def __init__(self, tolerate: int) -> None:
        self._tolerate = tolerate
        self.now: Stretch | None = None
        """The one that is not over."""
        self._waiting: list[Stretch] = []
        self._start = 0
        self._last: int | None = None
        self._dark = ""
        self.count = 0
        """How many there were, grown ones once."""

    def begin(self, moment: int, n: int) -> Stretch:
        """One begins at *moment*, by line *n*."""
        self.now = Stretch(moment, (n,))
        return self.now

    def finish(self, moment: int, n: int) -> None:
        """It is over at *moment*, by line *n*."""
        if self.now is not None:
            self.now.end = moment
            self.now.lines = (*self.now.lines, n)
            self._waiting.append(self.now)
            self.now = None

    def shorten(self, moment: int) -> None:
        """None of them lasted beyond *moment*, as is told only now."""
        for stretch in self._waiting:
            stretch.end = min(stretch.end, moment)

    def darken(self, moment: int, point: str) -> None:
        """*Point* was not known from *moment* on, as is told only now."""
        for stretch in self._waiting:
            if stretch.end > moment:
                stretch.dark = stretch.dark or point

    @property
    def idle(self) -> bool:
        """None lasts, and none waits to be certain."""
        return self.now is None and not self._waiting

    def over(self, moment: int | None) -> list[Together]:
        """Those that are over and certain, everything being told up to *moment* (None: to the end)."""
        found = []
        while self._waiting and (moment is None or self._waiting[0].end <= moment):
            stretch = self._waiting.pop(0)
            if stretch.end > stretch.begin:
                fresh = self._parted(stretch)
                self.count += fresh
                self._start = stretch.begin if fresh else self._start
                self._dark = stretch.dark if fresh else self._dark or stretch.dark
                self._last = max(stretch.end, self._last or stretch.end)
                found.append(Together(stretch.end - self._start, stretch.lines, self._dark))
        return found

    def lasting(self, moment: int) -> Together | None:
        """The one that surely lasts beyond *moment*, up to which everything is told; as long as it is by then."""
        stretch = self._waiting[0] if self._waiting else self.now
        if stretch is None or moment <= stretch.begin:
            return None
        start = stretch.begin if self._parted(stretch) else self._start
        return Together(moment - start, stretch.lines, stretch.dark)

    def _parted(self, stretch: Stretch) -> bool:
        return self._last is None or stretch.begin - self._last >= self._tolerate
