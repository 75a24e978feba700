"""Troubles from the field, told only as a system, what was done to it, and what came of it (see ``field_case``)."""

from __future__ import annotations

import pytest

from stagecall.model.plan import Form, Never, Order, Reads, Stays, Times, Turns
from stagecall.model.verdict import Verdict
from whole.field_case import Case, cases
from whole.harness import Performed, made_ready, perform

CASES = cases()
TROUBLES = [case for case in CASES if not case.no_fault]
each_case = pytest.mark.parametrize("case", CASES, ids=lambda case: case.case)
each_trouble = pytest.mark.parametrize("case", TROUBLES, ids=lambda case: case.case)


def as_found(case: Case, sequence: str) -> Performed:
    return perform(case.troubled, sequence, kit=case.kit, faults=case.faults)


def put_right(case: Case, sequence: str) -> Performed:
    return perform(case.sound, sequence, kit=case.kit)


def clean(performed: Performed) -> bool:
    return not performed.failed() and not performed.said()


def failed(case: Case, sequence: str, performed: Performed) -> set[str]:
    """What the sequence itself asked for in vain, as ``turns contactor on``; and monitors by their names."""
    plan = made_ready(case.troubled, case.kit, (sequence,)).sequences[0]
    asked = {form.id: asks(form) for step in plan.steps for form in step.expect}
    lines = performed.of(Verdict.FAIL)
    return {line.of for line in lines if line.of != sequence} | {
        asked.get(line.id, line.id) for line in lines if line.of == sequence
    }


def asks(form: Form) -> str:
    """An expectation in short: its form, and what it is about."""
    match form:
        case Turns(turns=condition) | Stays(stays=condition) | Times(times=condition):
            about = str(condition)
        case Never(never=conditions) | Order(order=conditions):
            about = ", ".join(map(str, conditions))
        case Reads(reads=name):
            about = name.replace("_", " ")
        case _:
            about = form.text
    return f"{type(form).__name__.lower()} {about}"


@each_case
def test_what_people_saw_comes_out(case: Case) -> None:
    seen = as_found(case, case.seen)

    own = [line for line in seen.verdicts() if line.of == case.seen and line.id]
    assert [line.id for line in own if line.verdict is not Verdict.PASS] == [], seen.said()
    assert own


@each_case
def test_the_right_expectations_fail_and_what_still_works_is_clean(case: Case) -> None:
    found = {name: as_found(case, name) for name in (*case.fails, *case.clean)}

    missed = {name: sorted({*wanted} - failed(case, name, found[name])) for name, wanted in case.fails.items()}
    assert [(name, words, found[name].said()) for name, words in missed.items() if words] == []
    assert [found[name].said() for name in case.clean if not clean(found[name])] == []
    assert all(case.fails.values())
    assert bool(case.fails) != bool(case.no_fault)


@each_trouble
def test_put_right_all_of_it_passes_and_nothing_of_it_is_seen_any_more(case: Case) -> None:
    found = {name: put_right(case, name) for name in (*case.fails, *case.clean)}
    seen = put_right(case, case.seen)

    assert [one.said() for one in found.values() if not clean(one)] == []
    assert [line for line in seen.of(Verdict.FAIL) if line.of == case.seen] != []
