"""How long a sequence takes and what it starts, computed from its plan before anything is called."""

from __future__ import annotations

import msgspec

from stagecall.model import plan
from stagecall.model.sequence import Anchor, Condition
from stagecall.points import COMPRESSOR_CALLS
from stagecall.rigs.guard import MINIMUM_OFF, MINIMUM_ON

MINUTE = 60_000
IN_MINUTES = 2 * MINUTE
"""Where it may take longer than this, it is said in whole minutes."""

Span = tuple[int, int]
"""The least and the most, ms."""
_NOW: Span = (0, 0)
_STARTED = (Anchor("point", "compressor", "on"), Anchor("point", "contactor", "on"), Anchor("call", "compressor", "on"))
_STOPPED = (
    Anchor("point", "compressor", "off"),
    Anchor("point", "contactor", "off"),
    Anchor("call", "compressor", "off"),
)
"""From what the guard may count, the surest first."""


class Takes(msgspec.Struct, frozen=True, kw_only=True):
    """What a sequence that passes asks for.

    ``shortest`` and ``longest``, ms: from its first step to its last, the guard's waits within it included, the rest
    before it and a person's answers not. ``starts``: points that it expects to turn on. ``calls``: terminals that it
    calls, or words where no system says which.
    """

    shortest: int
    longest: int
    starts: tuple[str, ...]
    calls: tuple[str, ...]

    def __str__(self) -> str:
        started = ", ".join(name.replace("_", " ") for name in self.starts)
        said = f"takes {_said(self.shortest, self.longest)}"
        said += f", starts: {started}" if started else ""
        return f"{said}; calls: {', '.join(self.calls)}" if self.calls else f"{said}; makes no call"


def takes(sequence: plan.Sequence) -> Takes:
    """Compute it for a sequence made ready."""
    counting = _Counting()
    steps = [step for step in sequence.steps if not step.not_applicable]
    for step in steps:
        counting.step(step)
    return Takes(
        shortest=counting.total[0],
        longest=counting.total[1],
        starts=tuple(dict.fromkeys(name for step in steps for form in step.expect for name in _turned_on(form))),
        calls=tuple(dict.fromkeys(call for step in steps for call in step.calls)),
    )


def _turned_on(form: plan.Form) -> tuple[str, ...]:
    """A wire that is live and an alarm that comes start nothing."""
    match form:
        case plan.Turns(not_applicable="", turns=condition):
            turned: tuple[Condition, ...] = (condition,)
        case plan.Order(not_applicable="", order=order):
            turned = order
        case _:
            turned = ()
    return tuple(one.point for one in turned if one.state == "on" and not one.point.startswith("wire_"))


class _Counting:
    """Counts step by step. What is known of past edges is kept as how long ago they were, at least and at most."""

    def __init__(self) -> None:
        self.total: Span = _NOW
        self._ago: dict[Anchor, Span] = {}
        self._calls: frozenset[str] = frozenset()
        self._powered = True

    def step(self, step: plan.Step) -> None:
        """Count one more step."""
        edges = self._begin(step)
        needs = self._needs(step, edges)
        if step.lasts is not None:
            length = (step.lasts, step.lasts)
        else:
            length = (max((low for low, _ in needs), default=0), max((high for _, high in needs), default=0))
        self._pass(length[0] + step.keep, length[1] + step.keep)
        for anchor, (low, high) in edges.items():
            self._ago[anchor] = (max(0, length[0] + step.keep - high), max(0, length[1] + step.keep - low))

    def _pass(self, low: int, high: int) -> None:
        self.total = (self.total[0] + low, self.total[1] + high)
        self._ago = {anchor: (least + low, most + high) for anchor, (least, most) in self._ago.items()}

    def _begin(self, step: plan.Step) -> dict[Anchor, Span]:
        """Wait as the guard will, then make the step's moves; gives their edges."""
        calls = frozenset(step.calls)
        powered = self._powered if step.power is None else step.power == "on"
        before = self._powered and bool(self._calls & COMPRESSOR_CALLS)
        after = powered and bool(calls & COMPRESSOR_CALLS)
        edges = {Anchor("call", call, "on"): _NOW for call in calls - self._calls}
        edges |= {Anchor("call", call, "off"): _NOW for call in self._calls - calls}
        if powered != self._powered:
            edges[Anchor("power", "", "on" if powered else "off")] = _NOW
        if before != after:
            if before:
                self._wait(_STARTED, MINIMUM_ON)
            elif step.challenge is None:
                self._wait(_STOPPED, MINIMUM_OFF)
            edges[Anchor("call", "compressor", "on" if after else "off")] = _NOW
        self._calls, self._powered = calls, powered
        return edges

    def _wait(self, counted: tuple[Anchor, ...], minimum: int) -> None:
        least, most = next((self._ago[one] for one in counted if one in self._ago), (minimum, minimum))
        self._pass(max(0, minimum - most), max(0, minimum - least))

    def _needs(self, step: plan.Step, edges: dict[Anchor, Span]) -> list[Span]:
        """When each expectation that the step waits for will have settled, counted from the step's begin.

        Anchors may stand below what they anchor, so those that are expected here are placed first.
        """
        expected = [form for form in step.expect if not form.not_applicable]
        turns = [form for form in expected if isinstance(form, plan.Turns) and form.each is None]
        for _ in turns:
            for form in turns:
                edges[Anchor("point", form.turns.point, form.turns.state)] = self._window(form, edges)
        return [need for form in expected if (need := self._need(form, edges)) is not None]

    def _need(self, form: plan.Form, edges: dict[Anchor, Span]) -> Span | None:
        match form:
            case plan.Turns(each=None) if form.within.range.high is not None:
                return self._window(form, edges)
            case plan.Turns(each=each) if each in edges and form.within.range.high is not None:
                return 0, edges[each][1] + round(form.within.range.high)
            case plan.Stays(each=None, length=length) if length is not None:
                low, high = self._at(form.since, edges)
                return max(0, low + form.begin + length), max(0, high + form.begin + length)
            case plan.Order() if form.gaps and all(gap is not None and gap.range.high is not None for gap in form.gaps):
                first = form.order[0]
                low, high = edges.get(Anchor("point", first.point, first.state), _NOW)
                for gap in form.gaps:
                    if gap is not None:
                        low, high = low + round(gap.range.low or 0), high + round(gap.range.high or 0)
                return low, high
            case plan.Reads(at=int(at)):
                return at, at
            case _:
                return None

    def _window(self, form: plan.Turns, edges: dict[Anchor, Span]) -> Span:
        low, high = self._at(form.since, edges)
        least = max(0, low + round(form.within.range.low or 0))
        most = least if form.within.range.high is None else high + round(form.within.range.high)
        return least, max(least, most)

    def _at(self, anchor: Anchor, edges: dict[Anchor, Span]) -> Span:
        """When the anchor was or will be, counted from the step's begin."""
        if anchor.kind == "step":
            return _NOW
        if anchor in self._ago:  # an anchor freezes at the step's begin: the last such edge before it counts
            least, most = self._ago[anchor]
            return -most, -least
        return edges.get(anchor, _NOW)


def _said(shortest: int, longest: int) -> str:
    """``20 to 35 min``; whole minutes or seconds, the shortest rounded down and the longest up."""
    unit, size = ("min", MINUTE) if longest > IN_MINUTES else ("s", 1000)
    low, high = shortest // size, -(-longest // size)
    if low == high:
        return f"{high} {unit}"
    return f"{low} to {high} {unit}" if low else f"at most {high} {unit}"
