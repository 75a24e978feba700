"""The judge: lines of a log in, verdict lines out. A pure function of the lines, fed one at a time."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import lru_cache
from typing import Any

import msgspec

from stagecall.judge.intervals import Mark
from stagecall.judge.monitors import Monitors
from stagecall.judge.sequence import Occurrence, rolled_up, verdict_line
from stagecall.judge.state import POWER, World, call_key
from stagecall.judge.watch import Outcome, not_applicable, unverified
from stagecall.model import event
from stagecall.model.event import AnyLine, VerdictLine, earliest
from stagecall.model.plan import Monitor, Sequence
from stagecall.model.verdict import Reason, Verdict


@lru_cache(maxsize=256)
def _sequence(typed: bytes) -> Sequence:
    return msgspec.json.decode(typed, type=Sequence)


@lru_cache(maxsize=256)
def _monitor(typed: bytes) -> Monitor:
    return msgspec.json.decode(typed, type=Monitor)


class Judge:
    """Judges a log as it is written, or read."""

    def __init__(self) -> None:
        self._handlers: dict[type, Callable[[Any], None]] = {
            event.Header: self._header,
            event.Document: self._document,
            event.Snapshot: self._snapshot,
            event.Call: self._call,
            event.Power: self._power,
            event.Switch: self._switch,
            event.Edge: self._edge,
            event.Reading: self._reading,
            event.Gap: self._gap,
            event.SequenceMark: self._sequence_mark,
            event.Settle: self._settled,
            event.StepMark: self._step_mark,
            event.Settled: self._settled,
            event.Answer: self._answer,
            event.Exception_: self._exception,
        }
        self._out: list[VerdictLine] = []
        self._rolled: list[VerdictLine] = []
        self._t, self._n = 0, -1
        self._told: Mark | None = None
        """The last settled moment."""
        self._plans: dict[str, Sequence] = {}
        self._begun: set[str] = set()
        self._set_aside: set[str] = set()
        self._excepted: dict[tuple[str, str], str] = {}
        self._occurrences = 0
        self._running: Occurrence | None = None
        self._start(event.SourceBounds())

    def _start(self, source: event.SourceBounds) -> None:
        self._world = World(source)
        self._monitors = Monitors(self._world, self._now, self._out)

    @property
    def _now(self) -> Mark:
        return Mark(self._t, self._t, self._n)

    # -- the public face ------------------------------------------------------------------------------------------

    def feed(self, line: AnyLine) -> list[VerdictLine]:
        """Take the next line of the log; the verdicts that it settles, stamped with its moment."""
        handler = self._handlers.get(type(line))
        if handler is None:
            return []
        self._t, self._n = line.t, line.n
        handler(line)
        return self._take() if self._out else []

    def finish(self, *, closed: bool) -> list[VerdictLine]:
        """The log ends here. *closed* is False where it is torn or the run broke off.

        What was logged after the last settled moment proves no absence.
        """
        t, n = (0, -1) if self._told is None else (self._told.t, self._told.n)
        if self._running is not None:
            self._end_sequence(t, n, "the log ends here" if closed else "the log broke off")
        for plan in self._plans.values():
            if plan.must_run and plan.name not in self._begun and plan.name not in self._set_aside:
                self._roll(verdict_line(plan.name, "", unverified(Reason.CUT_SHORT, "it was not run")))
        self._rolled += self._monitors.end(t, n, "" if closed else "the log broke off")
        self._out.append(rolled_up("", self._rolled))
        return self._take()

    def step_open(self) -> bool:
        """Whether a windowed expectation of the running step has not settled."""
        return self._running is not None and self._running.scope is not None and self._running.scope.open()

    def step_deadline(self) -> int | None:
        """The latest moment by which each of them will have settled whatever comes, ms; None while not known."""
        if self._running is None or self._running.scope is None:
            return None
        return self._running.scope.deadline()

    def step_due(self) -> int | None:
        """The same of those whose anchors are known by now; None where no anchor of an open one is.

        Anchors still to come hang on points that are waited for themselves: once nothing is due, waiting is over.
        """
        if self._running is None or self._running.scope is None:
            return None
        return self._running.scope.due()

    def closing_open(self) -> bool:
        """Whether a bounded instance of a monitor has not settled."""
        return self._monitors.scope.closing_open()

    def closing_deadline(self) -> int | None:
        """The latest moment by which each of them will have settled whatever comes, ms; None while not known."""
        return self._monitors.scope.closing_deadline()

    # -- lines ----------------------------------------------------------------------------------------------------

    def _header(self, line: event.Header) -> None:
        self._start(line.source)

    def _document(self, line: event.Document) -> None:
        if line.kind == "sequence":
            plan = _sequence(bytes(line.typed))
            self._plans[plan.name] = plan
            if plan.deferred or plan.not_applicable:
                self._set_aside.add(plan.name)
                self._roll(verdict_line(plan.name, "", _not_run(plan)))
        elif line.kind == "monitor":
            monitor = _monitor(bytes(line.typed))
            if monitor.not_applicable:
                self._roll(verdict_line(monitor.name, "", _not_run(monitor), monitor=True))
            else:
                self._monitors.arm(monitor, self._now)

    def _edge(self, line: event.Edge) -> None:
        point, state = line.point, line.state
        track = self._world.points.get(point)
        if track is None or track.state is None:
            return
        e, t = line.t if line.e is None else line.e, line.t
        track.state = state
        running = self._running
        scope = None if running is None else running.scope
        track.edges[state] = Mark(e, t, line.n), self._occurrences if scope is not None else 0
        if scope is not None:
            scope.change(point, state, e, t, line.n)
        self._monitors.scope.change(point, state, e, t, line.n)

    def _call(self, line: event.Call) -> None:
        self._made(call_key(line.terminal), line)

    def _power(self, line: event.Power) -> None:
        self._made(POWER, line)

    def _switch(self, line: event.Switch) -> None:
        self._made(f"switch:{line.name}", line)

    def _made(self, key: str, line: event.Call | event.Power | event.Switch) -> None:
        e = earliest(line)
        track = self._world.track(key)
        track.state = line.state
        track.edges[line.state] = Mark(e, line.t, line.n), self._occurrences
        if self._running is not None and self._running.scope is not None:
            self._running.scope.change(key, line.state, e, line.t, line.n)
        self._monitors.scope.change(key, line.state, e, line.t, line.n)

    def _reading(self, line: event.Reading) -> None:
        track = self._world.points.get(line.point)
        if track is None:
            return
        track.reading = line
        if self._running is not None and self._running.scope is not None:
            self._running.scope.reading(line.point, line.value, line.t, line.n)
        self._monitors.scope.reading(line.point, line.value, line.t, line.n)

    def _gap(self, line: event.Gap) -> None:
        self._lose(Mark(earliest(line), line.t, line.n), frozenset(line.points) or None)

    def _lose(self, mark: Mark, points: frozenset[str] | None) -> None:
        self._world.forget(points)
        if self._running is not None and self._running.scope is not None:
            self._running.scope.gap(mark, points)
        self._monitors.scope.gap(mark, points)

    def _snapshot(self, line: event.Snapshot) -> None:
        missed = self._world.contradicted(line)
        if missed:
            self._lose(Mark(0 if self._told is None else self._told.t, line.t, line.n), missed)
        self._settle(line.t, line.n)
        self._world.take(line)
        if self._running is not None and self._running.scope is not None:
            self._running.scope.snapshot(line.t, line.n)
        self._monitors.scope.snapshot(line.t, line.n)

    def _settled(self, line: event.Settled | event.Settle) -> None:
        self._settle(line.t, line.n)

    def _settle(self, s: int, n: int) -> None:
        told = self._told = Mark(s, s, n)
        if self._running is not None and self._running.scope is not None:
            self._running.scope.settled(told)
        self._monitors.scope.settled(told)

    def _step_mark(self, line: event.StepMark) -> None:
        running = self._running
        if line.phase == "end":
            self._settle(line.t, line.n)
            if running is not None:
                running.end_step(line.t, line.n, line.cut_short)
        elif running is not None and running.name == line.sequence:
            running.end_step(line.t, line.n, "the step's end is not in the log")
            running.begin_step(line, self._told)

    def _sequence_mark(self, line: event.SequenceMark) -> None:
        if line.phase == "end":
            self._settle(line.t, line.n)
            if self._running is not None and self._running.name == line.name:
                self._end_sequence(line.t, line.n, line.cut_short)
            return
        if self._running is not None:
            self._end_sequence(line.t, line.n, "another sequence began")
        plan = self._plans.get(line.name)
        if plan is None:
            detail = "the sequence is not in the log"
            self._roll(verdict_line(line.name, "", unverified(Reason.NOT_OBSERVED, detail)))
            return
        self._begun.add(plan.name)
        self._occurrences += 1
        self._running = Occurrence(plan, self._occurrences, self._world, self._excepted, self._out)
        self._running.begin(self._now)

    def _end_sequence(self, t: int, n: int, cut: str) -> None:
        if self._running is not None:
            self._rolled.append(self._running.end(t, n, cut))
            self._running = None

    def _answer(self, line: event.Answer) -> None:
        if self._running is not None and self._running.scope is not None and self._running.name == line.sequence:
            self._running.scope.answer(line.id, line.value, line.n)

    def _exception(self, line: event.Exception_) -> None:
        self._excepted[line.sequence, line.id] = f"{line.by}, {line.role}: {line.because}"

    # -- verdicts -------------------------------------------------------------------------------------------------

    def _roll(self, line: VerdictLine) -> None:
        self._out.append(line)
        self._rolled.append(line)

    def _take(self) -> list[VerdictLine]:
        out = self._out.copy()
        self._out.clear()
        for line in out:
            line.t = self._t
        return out


def _not_run(plan: Sequence | Monitor) -> Outcome:
    """What a plan that does not apply, or whose conditions are not met, comes to."""
    deferred = plan.deferred if isinstance(plan, Sequence) else ""
    if not deferred and not plan.must_run:
        return not_applicable(plan.not_applicable)
    reason = Reason.DEFERRED if deferred else Reason.NOT_OBSERVED
    return Outcome(Verdict.NOT_VERIFIED, reason, deferred or plan.not_applicable, counted=plan.must_run)


def judge(lines: Iterable[AnyLine], *, closed: bool) -> list[VerdictLine]:
    """Every verdict of a whole log; verdict lines among *lines* are passed over."""
    one = Judge()
    verdicts = [verdict for line in lines for verdict in one.feed(line)]
    return verdicts + one.finish(closed=closed)
