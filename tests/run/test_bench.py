"""Which sequences a board can carry out."""

from __future__ import annotations

from typing import Any

import pytest

from stagecall.documents import Library
from stagecall.model import plan
from stagecall.model.kit import Board
from stagecall.run.bench import cannot_make
from stagecall.run.prepare import prepare

BOARD = Board(calls={"Y1": 1, "G": 2, "W1": 3}, opens={"limit": 9}, power=13, exclusive=(("Y1", "W1"),))


def sequence(**step: Any) -> plan.Sequence:
    steps = (plan.Step(slug="first", title="First"), plan.Step(slug="step", title="Step", **step))
    return plan.Sequence(name="one", title="One", group="heat", steps=steps)


@pytest.mark.parametrize(
    "step",
    [
        {"calls": ("Y1", "G")},
        {"calls": ("G", "W1")},
        {"open_switch": "limit"},
        {"restore": "limit"},
        {"power": "off"},
        {"calls": ("W2",), "not_applicable": "W2 not wired here"},
    ],
)
def test_a_board_carries_out_what_its_relays_are_for(step: dict[str, Any]) -> None:
    assert cannot_make(sequence(**step), BOARD) == ""


@pytest.mark.parametrize(
    ("step", "why"),
    [
        ({"calls": ("G", "W2", "Y2")}, "no relay of this bench makes W2 and Y2"),
        ({"calls": ("W1", "Y1")}, "this bench never makes Y1 and W1 together"),
        ({"open_switch": "pressure_switch"}, "no relay of this bench lies in the pressure switch"),
        ({"press": "defrost_test"}, "no relay of this bench lies on the test pins"),
        ({"set": {"outdoor_air": 1.0}}, "a bench cannot set outdoor air"),
    ],
)
def test_what_its_relays_are_not_for_is_said(step: dict[str, Any], why: str) -> None:
    assert cannot_make(sequence(**step), BOARD) == why


def test_a_board_without_a_relay_in_the_power_cannot_cut_it() -> None:
    assert (
        cannot_make(sequence(power="off"), Board(calls={"G": 1})) == "no relay of this bench lies in the control's 24 V"
    )


def test_a_must_run_sequence_that_the_bench_cannot_carry_out_is_not_applicable_and_still_must_run() -> None:
    prepared = prepare(Library(), system="trainer-mockup", kit="bench-16", sequences=["flame-lost"])

    (one,) = prepared.sequences
    assert one.not_applicable == "no relay of this bench lies in the flame rod"
    assert one.must_run
