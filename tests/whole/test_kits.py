"""What a kit cannot see it does not pass, and a kit that sees less never accuses a healthy machine."""

from __future__ import annotations

import pytest

from stagecall.model.event import PointBounds
from stagecall.model.verdict import Reason, Verdict
from whole.harness import LIBRARY, made_ready, perform, stand

SYSTEM = "split-gas-cool"
KITS = [kit for kit in LIBRARY.names("kit") if LIBRARY.load("kit", kit).document.makes_calls]


@pytest.mark.parametrize("kit", KITS)
@pytest.mark.parametrize("system", LIBRARY.names("system"))
def test_no_kit_accuses_a_healthy_machine_in_any_sequence(kit: str, system: str) -> None:
    for sequence in made_ready(system, kit).sequences:
        if not (sequence.not_applicable or sequence.deferred):
            performed = perform(system, sequence.name, kit=kit)

            assert performed.of(Verdict.FAIL) == [], performed.said()


@pytest.mark.parametrize("kit", KITS)
def test_what_a_kit_cannot_see_is_not_observed(kit: str) -> None:
    points = stand(SYSTEM, kit).open().bounds.points
    (plan,) = made_ready(SYSTEM, kit, ("cool-one-stage",)).sequences
    blind = {
        form.id
        for step in plan.steps
        for form in step.expect
        if hasattr(form, "turns") and form.turns.point not in points
    }

    performed = perform(SYSTEM, "cool-one-stage", kit=kit)

    found = {line.id: line for line in performed.verdicts() if line.id in blind}
    assert set(found) == blind
    assert all((f.verdict, f.reason) == (Verdict.NOT_VERIFIED, Reason.NOT_OBSERVED) for f in found.values())


def test_a_coil_with_24_volts_passes_for_no_compressor() -> None:
    performed = perform(SYSTEM, "cool-one-stage", kit="board-24v", faults=["run-capacitor-dead"])

    assert performed.failed() == set()
    assert any(line.reason is Reason.NOT_OBSERVED for line in performed.of(Verdict.NOT_VERIFIED))


def test_a_person_hears_within_two_seconds_and_is_never_surer_than_one() -> None:
    bounds = stand(SYSTEM, "ears-and-meter").open().bounds.points["blower"]

    assert bounds == PointBounds(sensed="person", late_on=(1_000, 2_000), late_off=(1_000, 2_000), blind=2_000)
    assert bounds.width == 1_000


def test_ears_hear_that_the_blower_does_not_stop() -> None:
    assert "fan" in perform(SYSTEM, "fan", kit="ears-and-meter", faults=["blower-relay-stuck-on"]).failed()
