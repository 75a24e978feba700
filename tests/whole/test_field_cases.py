"""Troubles from the field, told only as a system and generic faults: the right expectation fails, and no other call."""

from __future__ import annotations

import msgspec

from stagecall.model.fault import AppliedFault, Fault
from stagecall.model.verdict import Verdict
from whole.harness import LIBRARY, perform

SYSTEM = "split-gas-cool"


def open_conductor(name: str) -> AppliedFault:
    generic: Fault = msgspec.structs.replace(LIBRARY.load("fault", "y-open").document, target=name)
    return AppliedFault(fault=generic, target=name)


def test_a_splice_that_fell_apart_outdoors_leaves_the_call_live_indoors_and_the_coil_dead() -> None:
    """A condensing unit does nothing: 24 V on the furnace's Y, none at the coil. Fan and heat are as ever."""
    fault = [open_conductor("outdoor-Y")]

    cool, fan, heat = (perform(SYSTEM, name, faults=fault) for name in ("cool-one-stage", "fan", "gas-heat-one-stage"))

    failed = {line.id for line in cool.of(Verdict.FAIL)}
    wire = [line for line in cool.lines if getattr(line, "point", "") == "wire_Y1"]
    assert failed == {"call-for-cooling.1"}
    assert [edge.state for edge in wire][:1] == ["on"]  # type: ignore[union-attr]
    assert fan.failed() == heat.failed() == set()


def test_five_minutes_of_nothing_after_a_flicker_of_the_power_are_no_fault() -> None:
    """Taken for a dead unit again and again: the board's own delay. It must come out clean, with the time it took."""
    performed = perform(SYSTEM, "minimum-off-after-power-loss")

    timed = next(line for line in performed.verdicts() if line.id == "time-the-start-after-power-returns.1")
    assert performed.failed() == set()
    assert timed.verdict is Verdict.PASS
    assert timed.observed is not None
    assert timed.observed.low is not None
    assert timed.observed.low > 170_000
