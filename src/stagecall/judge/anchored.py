"""Forms that count from an anchor: one instance from ``since``, or one for each trigger of ``each``."""

from __future__ import annotations

from typing import ClassVar, Protocol

import msgspec

from stagecall.judge.anchors import anchor_key
from stagecall.judge.intervals import Mark
from stagecall.judge.tally import Tally
from stagecall.judge.watch import (
    NEVER,
    Context,
    Outcome,
    Unless,
    Watch,
    blind_remark,
    latest,
    not_applicable,
    said,
    unverified,
)
from stagecall.model.plan import Stays, Turns
from stagecall.model.verdict import Reason


class Instance(Protocol):
    """One counting from one anchor; has an ``outcome`` once it is certain."""

    outcome: Outcome | None

    def target(self, state: str, e: int, t: int, n: int) -> None:
        """The point changed."""

    def caught_up(self) -> None:
        """All that was logged before the anchor was known has been given."""

    def until(self, e: int, t: int, n: int) -> None:
        """The condition that ends it came."""

    def unless(self, holds: bool, e: int, t: int, n: int) -> None:
        """The condition that sets it aside came to hold, or ceased."""

    def settled(self, s: int, n: int) -> None:
        """Nothing later is stamped at or before *s*."""

    def idle_until(self) -> float:
        """Before this moment is settled, ``settled`` changes nothing unless something else happens first, ms."""

    def end(self, s: int, n: int, cut: str) -> None:
        """The step ended; leaves an outcome."""

    def deadline(self) -> int | None:
        """The moment by which it has settled whatever comes, ms; None: not known."""


class _Kept(msgspec.Struct, frozen=True, gc=False):
    """A change that an anchor still to be logged may overlap: of the point, or of what ends a stretch.

    ``before`` is the point's state before it.
    """

    ends: bool
    before: str | None
    state: str
    e: int
    t: int
    n: int


class Anchored(Watch):
    """Opens instances, hands them what happens, and gathers what they come to."""

    def __init__(self, form: Turns | Stays, goal: tuple[str, str], context: Context) -> None:
        super().__init__(form, context)
        self.goal = goal
        self.each = form.each is not None and form.each.kind != "step"
        self.anchor = form.each if form.each is not None else form.since
        self.wants = None if self.each else self.anchor
        self.unless = Unless(form.unless, self.world)
        self.until = form.until if isinstance(form, Stays) else None
        self.instances: list[Instance] = []
        self.state: str | None = None
        self.changed = -1
        """When its last change was seen at the latest, ms; one point's changes do not overlap."""
        self._key = anchor_key(self.anchor)
        self.own = self._key == goal[0]
        """The anchor is a change of the point itself; its changes are in order however wide they are."""
        self._reach = self.world.width(self._key) if self._key else 0
        self._recent: list[_Kept] = []
        self._tally = Tally()
        self._aside = False

    drops: ClassVar[bool] = True
    """Whether ``unless`` drops an instance, or only suspends it."""

    def make(self, mark: Mark, state: str) -> Instance:
        """A new instance from *mark*, its point being in *state*."""
        raise NotImplementedError

    def finished(self, outcome: Outcome) -> Outcome:
        """What to make of a single instance's outcome, or of the whole tally's."""
        return outcome

    def must_see(self) -> tuple[str, ...]:
        names = [self.goal[0]]
        if self.anchor.kind == "point":
            names.append(self.anchor.name)
        if self.until is not None:
            names.append(self.until.point)
        return tuple(names)

    def keys(self) -> tuple[str, ...]:
        trigger = (self._key,) if self.each else ()
        return (*self.must_see(), *self.unless.keys, *trigger)

    def begin(self, mark: Mark) -> None:
        self.state = self.world.state(self.goal[0])
        last = None if self.state is None else self.world.edge(self.goal[0], self.state)
        self.changed = -1 if last is None else last[0].t
        self.unless.read(self.world)
        self._aside = self.unless.holds if self.drops else self.unless.suspends

    # -- single ---------------------------------------------------------------------------------------------------

    def resolve(self, anchor: Mark) -> None:
        """Take the anchor.

        Of what came before it, only the point itself can overlap it, and what ends a stretch, which the anchor's own
        change does not.
        """
        until = "" if self.until is None else self.until.point
        kept = [
            one
            for one in self.pending or ()
            if (one[0] == self.goal[0] and not self.own) or (one[0] == until and one[-1] != anchor.n)
        ]
        self.pending = kept
        self.unless.read(self.world)
        self._aside = self.unless.holds if self.drops else self.unless.suspends
        if self.own:
            self.state = self.anchor.state
        super().resolve(anchor)

    def anchored(self, mark: Mark) -> None:
        self._open(mark)

    def caught_up(self) -> None:
        for instance in self.instances:
            instance.caught_up()
        self._gather()

    # -- what happens ---------------------------------------------------------------------------------------------

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        if key == self.goal[0]:
            self._target(Mark(e, t, n), state)
        if self.until is not None and key == self.until.point and state == self.until.state:
            self._keep(key, _Kept(True, self.state, state, e, t, n))
            for instance in self.instances:
                instance.until(e, t, n)
        if key in self.unless.keys:
            self.unless.states[key] = state
            self._set_aside(e, t, n)
        if self.each and key == self._key and state == self.anchor.state:
            self._trigger(Mark(e, t, n))
        self._gather()

    def _target(self, mark: Mark, state: str) -> None:
        self._keep(self.goal[0], _Kept(False, self.state, state, mark.e, mark.t, mark.n))
        self.state, self.changed = state, mark.t
        for instance in self.instances:
            instance.target(state, mark.e, mark.t, mark.n)

    def _keep(self, key: str, kept: _Kept) -> None:
        if self.each and key != self._key:  # one point's own changes are in order however wide they are
            self._recent = [one for one in self._recent if one.t >= kept.t - self._reach]
            self._recent.append(kept)

    def _trigger(self, mark: Mark) -> None:
        recent = [kept for kept in self._recent if kept.t >= mark.e]
        now = self.state
        if recent:
            self.state = recent[0].before
        instance = self._open(mark)
        self.state = now
        if instance is not None:
            for kept in recent:
                if kept.ends:
                    instance.until(kept.e, kept.t, kept.n)
                else:
                    instance.target(kept.state, kept.e, kept.t, kept.n)
            instance.caught_up()

    def _open(self, mark: Mark) -> Instance | None:
        if self.state is None:
            self._lose(unverified(Reason.NOT_OBSERVED, f"{said(self.goal[0])} was not known then", lines=(mark.n,)))
            return None
        if self.unless.holds and self.drops:
            self._settle(not_applicable("set aside when it came up"))
            return None
        instance = self.make(mark, self.state)
        self.instances.append(instance)
        return instance

    def _lose(self, outcome: Outcome) -> None:
        if self.each and self.context.monitor:
            self._tally.lost += 1
        else:
            self._settle(outcome)

    def _settle(self, outcome: Outcome) -> None:
        outcome = self.unless.blame(outcome)
        if self.each:
            self._tally.add(outcome)
        else:
            self.outcome = self.finished(outcome)

    def _gather(self) -> None:
        for instance in self.instances:
            if instance.outcome is not None:
                break
        else:
            return
        done = [instance for instance in self.instances if instance.outcome is not None]
        self.instances = [instance for instance in self.instances if instance.outcome is None]
        for instance in done:
            self.closing(instance)
            if instance.outcome is not None:
                self._settle(instance.outcome)

    def closing(self, instance: Instance) -> None:
        """An instance has settled."""

    def settled(self, s: int, n: int) -> None:
        if self.instances:
            for instance in self.instances:
                instance.settled(s, n)
            self._gather()

    def idle_until(self) -> float:
        return min([instance.idle_until() for instance in self.instances], default=NEVER)

    def _set_aside(self, e: int, t: int, n: int) -> None:
        now = self.unless.holds if self.drops else self.unless.suspends
        if now != self._aside:
            self._aside = now
            for instance in self.instances:
                instance.unless(now, e, t, n)

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        self.unless.forget(points)
        self._set_aside(mark.e, mark.t, mark.n)
        self._gather()
        if points is not None and points.isdisjoint(self.must_see()):
            return
        if points is None or self.goal[0] in points:
            self.state = None
            self._recent.clear()
        lost = unverified(Reason.NOT_OBSERVED, "a gap in the record", lines=(mark.n,))
        if self.each:
            for _ in self.instances:
                self._lose(lost)
            self.instances = []
        elif self.outcome is None:
            self.outcome = lost

    def snapshot(self, t: int, n: int) -> None:
        self.state = self.world.state(self.goal[0])
        self.unless.read(self.world)
        self._set_aside(t, t, n)
        self._gather()

    def end(self, s: int, n: int, cut: str) -> None:
        for instance in self.instances:
            instance.settled(s, n)
            if instance.outcome is None:
                instance.end(s, n, cut)
        self._gather()
        if self.each:
            blind = max(self.world.blind(self.goal[0]), self.world.blind(self._key))
            context = self.context
            self.outcome = self.finished(
                self._tally.outcome(
                    cut=cut, monitor=context.monitor, must_run=context.must_run, remark=blind_remark(blind)
                )
            )

    def windowed(self) -> bool:
        """Whether an instance must settle in bounded time, by an upper end or a length."""
        raise NotImplementedError

    def open(self) -> bool:
        return self.windowed() and (self.pending is not None or bool(self.instances))

    def deadline(self) -> int | None:
        return latest([one.deadline() for one in self.instances])

    def closing_open(self) -> bool:
        return any(instance.deadline() is not None for instance in self.instances)

    def closing_deadline(self) -> int | None:
        return latest([one.deadline() for one in self.instances if one.deadline() is not None])
