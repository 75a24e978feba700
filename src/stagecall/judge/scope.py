"""A stretch that is judged: one step, or the whole log for all monitors. Hands each line to the watches concerned."""

from __future__ import annotations

from collections.abc import Callable
from operator import attrgetter

from stagecall.judge.anchors import Anchors
from stagecall.judge.ask import Ask
from stagecall.judge.intervals import Mark
from stagecall.judge.watch import NEVER, Watch, latest, unseen

Report = Callable[[Watch], None]


class Scope:
    """The open watches of a stretch and what each listens to."""

    __slots__ = ("_added", "_anchors", "_awake", "_idle_until", "_listeners", "_open", "_report", "_told", "_waiting")

    def __init__(self, anchors: Anchors, report: Report, told: Mark | None = None) -> None:
        """*report* is told each watch that has an outcome, once; *told* is the last settled moment."""
        self._anchors, self._report = anchors, report
        self._open: list[Watch] = []
        self._listeners: dict[str, list[Watch]] = {}
        self._waiting: list[Watch] = []
        self._told = told
        self._idle_until: float = NEVER
        """Before this moment is settled, no watch has anything to do but those that something happened to."""
        self._awake: list[Watch] = []
        self._added = 0

    def add(self, watch: Watch, begin: Mark) -> None:
        """Begin to judge *watch*."""
        watch.outcome = unseen(watch.world, watch.must_see())
        if watch.outcome is None:
            watch.begin(begin)
        if watch.outcome is None and watch.wants is not None:
            mark = self._anchors.find(watch.wants)
            if mark is None:
                watch.pending = []
                self._waiting.append(watch)
            else:
                self._resolve(watch, mark)
        self._look(watch)
        if watch.outcome is None:
            watch.place, self._added = self._added, self._added + 1
            self._awake.append(watch)
            self._open.append(watch)
            for key in dict.fromkeys(watch.keys()):
                self._listeners.setdefault(key, []).append(watch)

    def _wake(self, watch: Watch) -> None:
        if watch.sleeps_until:
            watch.sleeps_until = 0
            self._awake.append(watch)

    def _resolve(self, watch: Watch, anchor: Mark) -> None:
        self._wake(watch)
        watch.resolve(anchor)
        if watch.outcome is None and self._told is not None:
            watch.settled(self._told.t, self._told.n)

    def _look(self, watch: Watch) -> bool:
        """Report an outcome, if there is one by now."""
        if watch.outcome is None:
            return False
        self._report(watch)
        return True

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        """A point, call, switch or the power changed."""
        for watch in self._listeners.get(key, ()):
            if watch.outcome is None:
                if watch.pending is not None:
                    watch.pending.append((key, state, e, t, n))
                    continue
                self._wake(watch)
                watch.change(key, state, e, t, n)
                self._look(watch)
        if self._waiting and self._anchors.waiting:
            for anchor, mark in self._anchors.change(key, state, e, t, n):
                ready = [watch for watch in self._waiting if watch.wants == anchor and watch.outcome is None]
                self._waiting = [watch for watch in self._waiting if watch.wants != anchor]
                for watch in ready:
                    self._resolve(watch, mark)
                    self._look(watch)

    def reading(self, point: str, value: float, t: int, n: int) -> None:
        """A quantity was read."""
        for watch in self._listeners.get(point, ()):
            if watch.outcome is None:
                self._wake(watch)
                watch.reading(point, value, t, n)
                self._look(watch)

    def answer(self, expectation: str, value: str, n: int) -> None:
        """A person answered."""
        for watch in self._open:
            if watch.outcome is None and watch.id == expectation and isinstance(watch, Ask):
                watch.answer(value, n)
                self._look(watch)

    def settled(self, told: Mark) -> None:
        """Nothing later is stamped at or before that moment."""
        self._told = told
        s, n = told.t, told.n
        if s >= self._idle_until:
            due, self._idle_until = self._open, NEVER
        elif self._awake:
            due = sorted(self._awake, key=attrgetter("place"))
        else:
            return
        self._awake = []
        closed = False
        for watch in due:
            if watch.outcome is not None:
                closed = True
                continue
            if watch.pending is not None:
                watch.sleeps_until = NEVER
                continue
            if s >= watch.sleeps_until:
                watch.settled(s, n)
                if self._look(watch):
                    closed = True
                    continue
                watch.sleeps_until = watch.idle_until()
            if watch.sleeps_until:
                self._idle_until = min(self._idle_until, watch.sleeps_until)
            else:
                self._awake.append(watch)
        if closed:
            self._open = [watch for watch in self._open if watch.outcome is None]

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        """Nothing is known of *points* (None: of anything) until the next snapshot."""
        for watch in self._open:
            if watch.outcome is None:
                self._wake(watch)
                watch.gap(mark, points)
                self._look(watch)

    def snapshot(self, t: int, n: int) -> None:
        """A snapshot was taken."""
        for watch in self._open:
            if watch.outcome is None:
                self._wake(watch)
                watch.snapshot(t, n)
                self._look(watch)

    def end(self, s: int, n: int, cut: str) -> None:
        """The stretch ended; every watch comes to an outcome."""
        for watch in self._open:
            if watch.outcome is None:
                watch.outcome = watch.never_anchored(cut) if watch.pending is not None else None
                if watch.outcome is None:
                    watch.end(s, n, cut)
                self._report(watch)
        self._open = []

    def open(self) -> bool:
        """Whether a windowed expectation has not settled."""
        return any(watch.open() for watch in self._open if watch.outcome is None)

    def deadline(self) -> int | None:
        """When all of them will have, ms; None: not known."""
        return latest([watch.deadline() for watch in self._open if watch.outcome is None and watch.open()])

    def due(self) -> int | None:
        """When those will have whose anchors are known, ms; None: no anchor is."""
        known = [watch.deadline() for watch in self._open if watch.outcome is None and watch.open()]
        return max((t for t in known if t is not None), default=None)

    def closing_open(self) -> bool:
        """Whether a bounded instance has not settled."""
        return any(watch.closing_open() for watch in self._open if watch.outcome is None)

    def closing_deadline(self) -> int | None:
        """When all of them will have, ms; None: not known."""
        return latest(
            [watch.closing_deadline() for watch in self._open if watch.outcome is None and watch.closing_open()]
        )
