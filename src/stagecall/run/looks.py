"""What a person is told to look for: taken from what the steps expect."""

from __future__ import annotations

from collections.abc import Iterator

from stagecall.model import plan
from stagecall.model.sequence import Condition
from stagecall.points import at_rest, point
from stagecall.rigs.contract import Look


def look_of(step: plan.Step) -> Look:
    """What a step expects to come, in the order in which it says so, and what it says must not come."""
    forms = [form for form in step.expect if not form.not_applicable]
    expected = dict.fromkeys(one for form in forms for one in _expected(form))
    unwanted = dict.fromkeys(one for form in forms for one in _unwanted(form) if one not in expected)
    return Look(tuple(expected), tuple(unwanted))


def surveyed(sequence: plan.Sequence) -> tuple[Condition, ...]:
    """The states to be seen before a sequence begins: its starts, and all else that it speaks of at rest."""
    starts = {one.point: one for one in sequence.starts}
    for step in sequence.steps:
        look = look_of(step)
        for one in (*look.expected, *look.unwanted):
            if one.point not in starts and (rest := at_rest(one.point)) is not None:
                starts[one.point] = Condition(one.point, rest)
    return tuple(starts.values())


def _expected(form: plan.Form) -> Iterator[Condition]:
    match form:
        case plan.Turns():
            yield form.turns
        case plan.Order():
            yield from form.order
        case plan.Times():
            yield form.times


def _unwanted(form: plan.Form) -> Iterator[Condition]:
    match form:
        case plan.Stays():
            yield from _others(form.stays)
        case plan.Never():
            yield from form.never


def _others(condition: Condition) -> Iterator[Condition]:
    known = point(condition.point)
    for state in () if known is None else known.states:
        if state != condition.state:
            yield Condition(condition.point, state)
