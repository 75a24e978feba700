"""Where a control calls on its own, the same sequences run: calls are witnessed, and the same verdicts come out."""

from __future__ import annotations

import pytest

from stagecall.model.event import Call, Request, StepMark
from stagecall.model.verdict import Verdict
from stagecall.run.witness import matched
from whole.harness import made_ready, perform, replayed, unnumbered

SYSTEM = "split-gas-cool"
WITNESSED = ["fan", "cool-one-stage", "gas-heat-one-stage", "single-zone-acceptance", "at-rest"]


@pytest.mark.parametrize("sequence", WITNESSED)
def test_a_witnessed_run_of_a_healthy_system_passes(sequence: str) -> None:
    performed = perform(SYSTEM, sequence, kit="witness")

    assert performed.of(Verdict.FAIL) + performed.of(Verdict.NOT_VERIFIED) == [], performed.said()
    assert replayed(performed.lines) == [unnumbered(line) for line in performed.verdicts()]


@pytest.mark.parametrize("system", ["heat-pump-strips-o", "heat-pump-strips-b"])
@pytest.mark.parametrize(("sequence", "demand"), [("heat-pump-heat-one-stage", "HEAT"), ("heat-pump-cool", "COOL")])
def test_a_heat_pump_is_asked_for_what_its_valve_is_called_for(system: str, sequence: str, demand: str) -> None:
    performed = perform(system, sequence, kit="witness")

    asked = [line.because for line in performed.lines if isinstance(line, Request) and "above" in line.because]
    asked += [line.because for line in performed.lines if isinstance(line, Request) and "below" in line.because]
    assert asked
    assert all(demand in one for one in asked)
    assert performed.of(Verdict.FAIL) + performed.of(Verdict.NOT_VERIFIED) == [], performed.said()
    assert any(line.of == sequence and not line.id and line.verdict is Verdict.PASS for line in performed.verdicts())


def test_no_call_is_requested_where_calls_are_witnessed() -> None:
    performed = perform(SYSTEM, "cool-one-stage", kit="witness")

    requests = [line for line in performed.lines if isinstance(line, Request)]
    assert [request for request in requests if request.calls is not None] == []
    assert any(
        request.because == "ask the control: UNOCCUPIED period; COOL, 5 °F below the room" for request in requests
    )
    assert any(isinstance(line, Call) for line in performed.lines)


def test_a_witnessed_step_begins_with_the_last_call_that_it_requires() -> None:
    performed = perform(SYSTEM, "cool-one-stage", kit="witness")

    begin = next(m for m in performed.lines if isinstance(m, StepMark) and m.phase == "begin" and not m.awaits)
    last = max((line for line in performed.lines if isinstance(line, Call) and line.t <= begin.t), key=lambda c: c.n)
    assert begin.anchor == (last.e, last.t)


def test_a_fault_is_found_by_a_witnessed_run_too() -> None:
    assert perform(SYSTEM, "cool-one-stage", kit="witness", faults=["contactor-coil-open"]).failed() >= {
        "cool-one-stage"
    }


@pytest.mark.parametrize("sequence", ["compressor-minimum-off", "limit-opens", "minimum-off-after-power-loss"])
def test_what_only_relays_can_do_does_not_apply(sequence: str) -> None:
    (plan,) = made_ready(SYSTEM, "witness", (sequence,)).sequences

    assert plan.not_applicable == "it needs a rig that makes calls"


def test_what_no_thermostat_calls_does_not_apply() -> None:
    (plan,) = made_ready(SYSTEM, "witness", ("one-call-one-load",)).sequences

    assert plan.not_applicable == "no thermostat calls Y1 alone"


@pytest.mark.parametrize(
    ("required", "seen", "there"),
    [
        ("", "", True),
        ("", "G", False),
        ("G", "G", True),
        ("G", "G W1", False),
        ("W1", "W1", True),
        ("W1", "W1 G", True),
        ("W1", "W1 Y1", False),
        ("G Y1", "Y1", False),
        ("G Y1", "Y1 G", True),
        ("G Y1", "Y1 G W1", False),
    ],
)
def test_extra_fan_is_fine_beside_heat_and_nothing_else_is_extra(required: str, seen: str, there: bool) -> None:
    assert matched(required.split(), set(seen.split())) is there
