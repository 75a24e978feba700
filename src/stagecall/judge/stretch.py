"""Times in which several conditions hold together, grown over partings shorter than what is tolerated. All in ms."""

from __future__ import annotations


class Stretch:
    """The time in which all hold, as the log tells it."""

    __slots__ = ("_last", "_start", "_tolerate", "open", "opened")

    def __init__(self, tolerate: int) -> None:
        self._tolerate = tolerate
        self.open = False
        self.opened = self._start = 0
        self._last: int | None = None

    def begin(self, moment: int) -> bool:
        """Open at *moment*; whether it is a new one, not the last one grown."""
        fresh = self._last is None or moment - self._last >= self._tolerate
        if fresh:
            self._start = moment
        self.open, self.opened = True, moment
        return fresh

    def length(self, moment: int) -> int:
        """How long it is if it lasts to *moment*; 0 where it has not begun by then."""
        return moment - self._start if moment > self.opened else 0

    def finish(self, moment: int) -> int:
        """Close at *moment*; its length."""
        self.open = False
        length = self.length(moment)
        if length:
            self._last = moment
        return length


class SureStretch:
    """The times in which all surely hold.

    When one condition is told to have ceased, another may still be told to have ceased before it: a time is certain
    only as far as everything is told.
    """

    __slots__ = ("_opened", "_told", "_waiting", "open")

    def __init__(self, tolerate: int) -> None:
        self.open = False
        self._opened = (0, -1)
        self._told = Stretch(tolerate)
        self._waiting: list[tuple[int, int, tuple[int, ...]]] = []
        """Begin, end and lines of times that are over but not yet certain."""

    def begin(self, moment: int, n: int) -> None:
        """All hold from *moment* on, by line *n*."""
        self.open, self._opened = True, (moment, n)

    def leave(self, moment: int, n: int) -> None:
        """One of them ceased at *moment* at the earliest, by line *n*."""
        if self.open:
            begin, opener = self._opened
            self._waiting.append((begin, moment, (opener, n)))
            self.open = False
        for k in range(len(self._waiting) - 1, -1, -1):
            begin, end, lines = self._waiting[k]
            if end <= moment:
                break
            self._waiting[k] = begin, moment, lines

    def certain(self, moment: int) -> tuple[int, tuple[int, ...]]:
        """The longest time that is certain once everything is told up to *moment*, and its lines."""
        longest: tuple[int, tuple[int, ...]] = (0, ())
        while self._waiting and self._waiting[0][1] <= moment:
            begin, end, lines = self._waiting.pop(0)
            if end > begin:
                self._told.begin(begin)
                longest = max(longest, (self._told.finish(end), lines))
        if self._waiting or self.open:
            begin, lines = (self._waiting[0][0], self._waiting[0][2]) if self._waiting else (self._opened[0], ())
            self._told.begin(begin)
            longest = max(longest, (self._told.length(moment), lines or (self._opened[1],)))
        return longest
