"""``valve:``, ``aux:`` and ``emergency:`` become terminals by the system's own set-up, and by nothing else."""

from __future__ import annotations

import msgspec
import pytest

from stagecall.documents import Library, resolve_sequence
from stagecall.documents.loaded import Loaded, parse
from stagecall.model import plan
from stagecall.model.sequence import Sequence
from stagecall.model.system import System

LIBRARY = Library()
TEXT = """\
sequence: one
title: One
purpose: Something
group: aux
steps:
  - step: First
    {step}
    call: [Y1, G]
  - step: Second
    because: As before.
"""


def steps_on(system: str, step: str, **control: object) -> plan.Sequence:
    """A sequence whose first step is asked for with these keys, on a system whose control is set up like this."""
    text = TEXT.replace("{step}", step.replace("; ", "\n    "))
    if "emergency" in step:
        text = text.replace("[Y1, G]", "[G]")
    loaded = parse(Sequence, text.encode(), "one.yaml")
    file = LIBRARY.load("system", system)
    changed = msgspec.structs.replace(file.document, control=msgspec.structs.replace(file.document.control, **control))
    here: Loaded[System] = msgspec.structs.replace(file, document=changed)
    return resolve_sequence(loaded, here, LIBRARY.profiles(changed), LIBRARY)


@pytest.mark.parametrize(
    ("system", "step", "calls"),
    [
        ("heat-pump-strips-o", "valve: cool", ("Y1", "G", "O")),
        ("heat-pump-strips-o", "valve: heat", ("Y1", "G")),
        ("heat-pump-strips-b", "valve: heat", ("Y1", "G", "B")),
        ("heat-pump-strips-b", "valve: cool", ("Y1", "G")),
        ("heat-pump-strips-o", "valve: heat; aux: 1", ("Y1", "G", "W1")),
        ("heat-pump-two-stage", "valve: heat; aux: 3", ("Y1", "G", "W1", "W2", "W3")),
        ("heat-pump-strips-b", "valve: heat; aux: 1", ("Y1", "G", "B", "W1")),
        ("heat-pump-strips-b", "emergency: true", ("G", "E")),
        ("heat-pump-strips-o", "emergency: true", ("G", "W1", "W2")),
    ],
)
def test_a_mode_is_the_systems_own_terminals_and_stands_until_another_step_says_otherwise(
    system: str, step: str, calls: tuple[str, ...]
) -> None:
    resolved = steps_on(system, step)

    assert [one.calls for one in resolved.steps] == [calls, calls]
    assert not resolved.not_applicable


def test_a_system_that_does_not_say_which_call_moves_its_valve_runs_nothing_that_needs_it() -> None:
    resolved = steps_on("heat-pump-strips-o", "valve: heat", valve="unknown")

    assert resolved.not_applicable == "this system does not say whether O or B calls the reversing valve"


@pytest.mark.parametrize(
    ("step", "control", "why"),
    [
        ("aux: 3", {}, "3 stages of auxiliary heat called for and only 2 of them here"),
        ("aux: 1", {"aux": ()}, "1 stage of auxiliary heat called for and none of them here"),
        ("emergency: true", {"emergency": ()}, "no emergency heat here"),
    ],
)
def test_stages_that_are_not_there_are_left_out_with_the_step(step: str, control: dict[str, object], why: str) -> None:
    assert steps_on("heat-pump-strips-o", step, **control).steps[0].not_applicable == why


def test_a_step_whose_test_pins_no_machine_has_is_left_out() -> None:
    assert steps_on("cooling-only", "press: defrost_test").steps[0].not_applicable == "no defrost test here"


def test_by_itself_a_sequence_says_its_modes_in_words() -> None:
    text = TEXT.replace("{step}", "valve: cool\n    aux: 1")
    resolved = resolve_sequence(parse(Sequence, text.encode(), "one.yaml"), None, {}, LIBRARY)

    assert resolved.steps[0].calls == ("Y1", "G", "valve to cool", "aux 1")
