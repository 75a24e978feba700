"""Every finite bound of every limit bites: a machine 25 % outside it fails, with the full kit.

The machine is healthy but for the one response that the limit judges, which comes 25 % of the bound outside it (of the
range's width for temperatures). It is seen through the kit, and the run goes on with what is seen.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import UTC, datetime

import msgspec
import pytest

from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.event import AnyLine, Header, StepMark, VerdictLine
from stagecall.model.sequence import Anchor, Condition
from stagecall.model.verdict import Verdict
from stagecall.record import Log
from stagecall.rigs.clock import HandClock
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.session import Session
from whole.harness import applicable, made_ready, stand, systems
from whole.off_rig import OPPOSITE, Moment, OffRig

OUTSIDE = 0.25
KIT = "full"


class Bound(msgspec.Struct, frozen=True):
    """One end of one limit, as one expectation of one sequence uses it."""

    system: str
    sequence: str
    step: str
    """Empty: a monitor's."""
    form: plan.Form
    end: str
    beyond: float
    """The value 25 % outside: ms, SI, or a count."""

    def __str__(self) -> str:
        return f"{self.system}-{self.sequence}-{self.form.id}-{self.end}"


def ends(low: float | None, high: float | None, *, temperature: bool = False) -> Iterator[tuple[str, float]]:
    width = (high or 0) - (low or 0) if temperature and low is not None and high is not None else None
    if low:
        yield "low", low - OUTSIDE * (width if width is not None else abs(low))
    if high:
        yield "high", high + OUTSIDE * (width if width is not None else abs(high))


def bounds_of(form: plan.Form) -> Iterator[tuple[str, float]]:
    match form:
        case plan.Turns():
            yield from ends(form.within.range.low, form.within.range.high)
        case plan.Stays(length=length) if length:
            yield from ends(length, None)
        case plan.Never(tolerate=tolerate) if tolerate:
            yield from ends(None, tolerate)
        case plan.Reads():
            temperature = form.limit.kind in ("temperature", "difference")
            yield from ends(form.limit.range.low, form.limit.range.high, temperature=temperature)
        case plan.Times():
            for end, value in ends(form.count.range.low, form.count.range.high):
                yield end, math.floor(value) if end == "low" else math.ceil(value)
        case plan.Order():
            for place, gap in enumerate(form.gaps):
                if gap is not None:
                    yield from ((f"{end} of gap {place}", value) for end, value in ends(gap.range.low, gap.range.high))


def all_bounds() -> Iterator[Bound]:
    """Each bound once, on the first system to which its sequence applies; a monitor's where one makes it so."""
    seen: set[str] = set()
    for system in systems():
        for name in applicable(system):
            prepared = made_ready(system, KIT, (name,))
            steps = [step for step in prepared.sequences[0].steps if not step.not_applicable]
            forms = [(step.slug, form) for step in steps for form in step.expect]
            active = set(prepared.sequences[0].monitors)
            watched = [("", form) for monitor in prepared.monitors if monitor.name in active for form in monitor.expect]
            for step, form in forms + watched:
                key = form.id if not step else f"{name}/{form.id}"
                if key in seen or form.not_applicable:
                    continue
                seen.add(key)
                yield from (Bound(system, name, step, form, end, value) for end, value in bounds_of(form))


class Arming(Silent):
    """Tells the moment when the step that counts begins."""

    def __init__(self, bound: Bound, moment: Moment) -> None:
        self._bound, self._moment = bound, moment

    def show(self, line: AnyLine) -> None:
        if isinstance(line, StepMark) and line.phase == "begin" and line.step == self._bound.step:
            self._moment.arm(line)


def miscounted(rig: OffRig, form: plan.Times, bound: Bound) -> Moment:
    """Too many or too few of the edges that are counted."""

    def too_many(t: float) -> None:
        for k in range(int(bound.beyond)):
            rig.say(t + 20_000 * k + 10_000, Condition(form.times.point, OPPOSITE[form.times.state]))
            rig.say(t + 20_000 * k + 20_000, form.times)

    def too_few(t: float) -> None:
        rig.swallow = lambda edge: (edge.point, edge.state) == (form.times.point, form.times.state)
        for k in range(1, int(bound.beyond)):
            rig.say(t + 20_000 * k, form.times)

    then = too_few if bound.end == "low" else too_many
    return Moment(Anchor("point", form.times.point, form.times.state), then)


def bent(rig: OffRig, bound: Bound) -> Moment:
    """Make the rig give the one response outside the bound."""
    form = bound.form

    def swallow_from_now(*conditions: Condition) -> None:
        rig.swallow = lambda edge: any((edge.point, edge.state) == (c.point, c.state) for c in conditions)

    match form:
        case plan.Turns():
            moment = Moment(form.each or form.since, lambda t: rig.say(t + bound.beyond, form.turns))
            if form.each is None:
                arm = moment.arm

                def armed(mark: StepMark | None) -> None:
                    swallow_from_now(form.turns)
                    arm(mark)

                moment.arm = armed  # type: ignore[method-assign]
            else:
                swallow_from_now(form.turns)
        case plan.Stays():
            away = Condition(form.stays.point, OPPOSITE[form.stays.state])
            moment = Moment(form.each or form.since, lambda t: rig.say(t + form.begin + bound.beyond, away))
        case plan.Never():
            last = form.never[-1]

            def together(t: float) -> None:
                swallow_from_now(*(Condition(c.point, OPPOSITE[c.state]) for c in form.never))
                rig.say(t + 1_000, last)
                rig.say(t + 1_000 + bound.beyond, Condition(last.point, OPPOSITE[last.state]))

            first = form.never[0]
            moment = Moment(Anchor("point", first.point, first.state), together)
        case plan.Reads():
            rig.read_as[form.reads] = bound.beyond
            moment = Moment(Anchor(), lambda _: None)
        case plan.Times():
            moment = miscounted(rig, form, bound)
        case plan.Order():
            place = int(bound.end.rpartition(" ")[2])
            before, after = form.order[place], form.order[place + 1]
            swallow_from_now(after)
            moment = Moment(Anchor("point", before.point, before.state), lambda t: rig.say(t + bound.beyond, after))
        case _:
            raise AssertionError(form)
    return moment


def verdict_outside(bound: Bound) -> VerdictLine:
    guarded = stand(bound.system, KIT).open()
    rig = OffRig(guarded._rig)
    guarded._rig = rig
    moment = bent(rig, bound)
    rig.watch = moment.hear
    if not bound.step:
        moment.arm(None)
    header = Header(
        tool="0", run="off", start="2026-01-01T00:00:00+00:00", tested_on="model", rig="off", system=bound.system,
        kit=KIT, source=rig.bounds,
    )  # fmt: skip
    person = Arming(bound, moment)
    ledger = Ledger(Log.in_memory(header), Judge(), header, person.show)
    prepared = made_ready(bound.system, KIT, (bound.sequence,))
    turn(Session(prepared, ledger), guarded, person, clock=HandClock(datetime(2026, 1, 1, tzinfo=UTC)))
    return next(line for line in ledger.verdicts if line.id == bound.form.id)


@pytest.mark.parametrize("bound", list(all_bounds()), ids=str)
def test_a_machine_a_quarter_outside_a_limit_fails(bound: Bound) -> None:
    line = verdict_outside(bound)

    assert line.verdict is Verdict.FAIL, f"{line.reason} {line.detail} {line.observed} of {line.limit}"
