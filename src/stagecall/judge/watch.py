"""What every form has in common: one watch judges one expectation in one step, or in the whole log for a monitor."""

from __future__ import annotations

import math

import msgspec

from stagecall.judge.intervals import Mark
from stagecall.judge.state import World
from stagecall.model.plan import Form
from stagecall.model.sequence import Anchor, Condition
from stagecall.model.verdict import Reason, Verdict
from stagecall.units import Kind, Range, show_time

BLIND_CAP = 1000
"""The longest blind time, ms, that an omitted ``tolerate`` stands for (rule 12 of the verdicts)."""

NEVER = math.inf
"""A moment that does not come."""

Change = tuple[str, str, int, int, int]
"""key, state, e, t, n."""


class Outcome(msgspec.Struct, frozen=True, gc=False):
    """What a watch or an instance came to. Times in ms, readings in SI."""

    verdict: Verdict
    reason: Reason | None = None
    detail: str = ""
    observed: Range | None = None
    margin: float | None = None
    usual: bool | None = None
    remark: str = ""
    lines: tuple[int, ...] = ()
    instances: int | None = None
    failed: int | None = None
    counted: bool = True


def unverified(
    reason: Reason, detail: str = "", *, lines: tuple[int, ...] = (), observed: Range | None = None
) -> Outcome:
    """Not verified, and why."""
    return Outcome(Verdict.NOT_VERIFIED, reason, detail, observed, lines=lines)


def not_applicable(why: str) -> Outcome:
    """Does not apply here."""
    return Outcome(Verdict.NOT_APPLICABLE, detail=why, counted=False)


def said(name: str) -> str:
    """A point's name the way it is spoken."""
    return name.replace("_", " ")


class Context(msgspec.Struct, frozen=True):
    """Where an expectation is judged: ``of`` names its sequence or monitor."""

    world: World
    of: str
    monitor: bool = False
    must_run: bool = False


class Watch:
    """Judges one expectation.

    The owner calls :meth:`begin`, :meth:`anchored` once the anchor that it ``wants`` is known, and then whatever
    happens; once ``outcome`` is there nothing more. Changes that come before the anchor are kept and given again.
    """

    unit: Kind = "time"

    def __init__(self, form: Form, context: Context) -> None:
        self.id, self.context, self.world = form.id, context, context.world
        self.outcome: Outcome | None = None
        self.wants: Anchor | None = None
        self.pending: list[Change] | None = None
        self.sleeps_until: float = 0
        """Its owner's note of :meth:`idle_until`."""
        self.place = 0
        """Among the watches of its owner."""

    def limit(self) -> Range | None:
        """The limit it is judged by, for the record."""
        return None

    def must_see(self) -> tuple[str, ...]:
        """The points without which nothing can be said."""
        return ()

    def keys(self) -> tuple[str, ...]:
        """The keys whose changes it listens to."""
        return self.must_see()

    def begin(self, mark: Mark) -> None:
        """The step begins."""

    def anchored(self, mark: Mark) -> None:
        """The wanted anchor is known; the pending changes follow, then :meth:`caught_up`."""

    def caught_up(self) -> None:
        """All that was logged before the anchor was known has been given again."""

    def change(self, key: str, state: str, e: int, t: int, n: int) -> None:
        """One of its keys changed."""

    def reading(self, point: str, value: float, t: int, n: int) -> None:
        """One of its quantities was read."""

    def answer(self, value: str, n: int) -> None:
        """A person answered its question."""

    def settled(self, s: int, n: int) -> None:
        """Nothing later is stamped at or before *s*."""

    def idle_until(self) -> float:
        """Before this moment is settled, :meth:`settled` changes nothing unless something else happens first, ms.

        Asked after :meth:`settled` only, and never while an anchor is waited for.
        """
        return 0

    def gap(self, mark: Mark, points: frozenset[str] | None) -> None:
        """Nothing is known of *points* (None: of anything) from *mark* to the next snapshot."""

    def snapshot(self, t: int, n: int) -> None:
        """A snapshot was taken; the world has it."""

    def end(self, s: int, n: int, cut: str) -> None:
        """The step (the log) ended; *cut* says why where it did not run its full length. Leaves an outcome."""
        raise NotImplementedError

    def open(self) -> bool:
        """Whether something that must settle in bounded time has not."""
        return False

    def deadline(self) -> int | None:
        """The moment by which all that is :meth:`open` has settled whatever comes, ms; None: not known."""
        return None

    def closing_open(self) -> bool:
        """The same for the stretch that closes a run."""
        return self.open()

    def closing_deadline(self) -> int | None:
        """The deadline of what is :meth:`closing_open`."""
        return self.deadline()

    def resolve(self, anchor: Mark) -> None:
        """Take the anchor, then what was kept while it was not known."""
        pending, self.pending = self.pending or [], None
        self.anchored(anchor)
        for change in pending:
            if self.outcome is None:
                self.change(*change)
        if self.outcome is None:
            self.caught_up()

    def never_anchored(self, cut: str) -> Outcome:
        """What to say when the wanted anchor never came."""
        if self.wants is None or self.wants.kind == "step":
            return unverified(Reason.CUT_SHORT, cut or "the step's calls were not seen to change")
        if cut:
            return unverified(Reason.CUT_SHORT, cut)
        return unverified(Reason.NEVER_CAME_UP, f"{self.wants} did not come")


class Unless:
    """The conditions that set an expectation aside while any of them holds."""

    __slots__ = ("_seen", "conditions", "keys", "states", "width")

    def __init__(self, conditions: tuple[Condition, ...], world: World) -> None:
        self.conditions = conditions
        self.keys: tuple[str, ...] = ()
        self._seen: frozenset[str] = frozenset()
        self.states: dict[str, str | None] = {}
        self.width = 0
        if conditions:  # most have none
            self._listen(world)

    def _listen(self, world: World) -> None:
        self.keys = tuple(dict.fromkeys(condition.point for condition in self.conditions))
        self._seen = frozenset(key for key in self.keys if key in world.points)
        self.states = dict.fromkeys(self.keys)
        self.width = max((world.width(key) for key in self._seen), default=0)

    def read(self, world: World) -> None:
        """Take the states that the world knows now."""
        if self.keys:
            self.states = {key: world.state(key) for key in self.keys}

    @property
    def holds(self) -> bool:
        """One of the conditions surely holds."""
        return bool(self.keys) and any(self.states[one.point] == one.state for one in self.conditions)

    @property
    def suspends(self) -> bool:
        """One of them holds, or perhaps does since a gap. One that cannot be seen at all suspends nothing."""
        return bool(self.keys) and (self.holds or any(self.states[key] is None for key in self._seen))

    def forget(self, points: frozenset[str] | None) -> None:
        """Their points are not known any more."""
        for key in self.keys:
            if points is None or key in points:
                self.states[key] = None

    def blame(self, outcome: Outcome) -> Outcome:
        """A fail that a condition the source cannot see might have excused is not observed."""
        unseen = [said(key) for key in self.keys if key not in self._seen]
        if outcome.verdict is not Verdict.FAIL or not unseen:
            return outcome
        detail = f"{', '.join(unseen)} cannot be seen"
        return unverified(Reason.NOT_OBSERVED, detail, lines=outcome.lines, observed=outcome.observed)


def tolerance(tolerate: int | None, blind: int) -> int:
    """What is tolerated, ms: as written; where omitted, the blind time, or nothing where that is above the cap."""
    if tolerate is not None:
        return tolerate
    return blind if blind <= BLIND_CAP else 0


def blinded(outcome: Outcome, tolerate: int | None, blind: int) -> Outcome:
    """A pass that a missed pulse could belie is not observed; an omitted ``tolerate`` is told."""
    if outcome.verdict is not Verdict.PASS:
        return outcome
    if tolerance(tolerate, blind) < blind:
        return unverified(
            Reason.NOT_OBSERVED,
            f"pulses under {show_time(blind)} cannot be seen",
            lines=outcome.lines,
            observed=outcome.observed,
        )
    if tolerate is None and blind:
        return msgspec.structs.replace(
            outcome, remark=f"pulses under {show_time(blind)} are let pass: they may go unseen"
        )
    return outcome


def blind_remark(blind: int) -> str:
    """What must be said where pulses can be missed."""
    return f"pulses under {show_time(blind)} cannot be seen" if blind else ""


def unseen(world: World, names: tuple[str, ...]) -> Outcome | None:
    """Not observed, where the source cannot see one of *names*."""
    for name in names:
        if name not in world.points:
            return unverified(Reason.NOT_OBSERVED, f"{said(name)} cannot be seen")
    return None


def latest(deadlines: list[int | None]) -> int | None:
    """The latest of them; None where there are none, or one is not known."""
    known = [deadline for deadline in deadlines if deadline is not None]
    return max(known) if known and len(known) == len(deadlines) else None
