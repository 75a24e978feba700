"""The control's own side: outputs that leak, and a control without a common that lives on the loads."""

from __future__ import annotations

import msgspec
import pytest
from traced import COMPRESSOR, CONTACTOR, INDUCER, LIBRARY, MIN, S, Traced, plan, system, wire_fault

from stagecall.plant import blueprint

SYSTEM = "split-gas-cool"
SOLID_STATE = {"control.outputs": "solid_state"}


def volts(run: Traced, point: str) -> float:
    """On that screw of the furnace, against its C."""
    where = run.plant.points()[point]["call_volts"]
    return run.plant._electric.levels[run.plant._blueprint.probes[where.key]].value


def test_a_solid_state_output_that_is_off_is_near_nothing_with_a_load() -> None:
    run = Traced(SYSTEM, settings=SOLID_STATE).wait(S)

    assert 0.5 < volts(run, "wire_W1") < 3
    assert volts(Traced(SYSTEM).wait(S), "wire_W1") < 0.01


def test_it_starts_nothing_and_its_calls_work() -> None:
    run = Traced(SYSTEM, settings=SOLID_STATE).wait(10 * MIN)
    assert not run.times(COMPRESSOR, "on")

    run.call("Y1", "G", run=MIN)

    assert run.times(COMPRESSOR, "on")


def test_with_its_load_gone_it_reads_hot_at_the_screw() -> None:
    """The furnace's board is the load: its own C lost, the screw floats up to the leaking output."""
    own = plan(SYSTEM).profiles["furnace"]
    bare = [joint for joint in own.wiring if "board.G" not in joint]
    here = blueprint(system(SYSTEM), {own.equipment: msgspec.structs.replace(own, wiring=tuple(bare)), **others()})

    leaky, relays = (Traced(on=here, settings=given).wait(S) for given in (SOLID_STATE, {}))

    assert volts(leaky, "wire_G") > 20
    assert volts(relays, "wire_G") < 1


def others() -> dict[str, object]:
    return {name: one for name, one in LIBRARY.profiles(system(SYSTEM)).items() if "furnace" not in name}


@pytest.mark.parametrize(("amps", "starts"), [("0.005 A", False), ("0.03 A", True)])
def test_a_control_that_lives_on_an_electronic_input_may_start_heat_that_nobody_called(amps: str, starts: bool) -> None:
    """A coil would not notice; an input of some kilohm takes the stealing for a call."""
    run = Traced(SYSTEM, settings={"control.steals": "W1", "control.own_amps": amps}).wait(MIN)

    assert bool(run.times(INDUCER, "on")) == starts


def test_what_is_stolen_through_y_never_pulls_a_contactor_in() -> None:
    """The wire reads live; as soon as the board lets the coil have it, the coil pulls it down."""
    run = Traced(SYSTEM, settings={"control.steals": "Y1", "control.own_amps": "0.03 A"}).wait(10 * MIN)

    assert run.state["wire_Y1 by call_volts"] == "on"
    assert not run.times(CONTACTOR, "on")


def test_a_system_sets_its_control_and_a_wrong_setting_is_complained_of() -> None:
    given = system(SYSTEM)
    control = msgspec.structs.replace(given.control, settings={"outputs": "solid_state"})

    here = blueprint(msgspec.structs.replace(given, control=control), LIBRARY.profiles(given))

    assert here.site["control"].outputs == "solid_state"  # type: ignore[attr-defined]


def test_a_broken_wire_behind_a_leaking_output_reads_nothing_at_the_machine() -> None:
    run = Traced(SYSTEM, settings=SOLID_STATE, faults=(wire_fault("open", "thermostat-W1"),)).wait(S)

    assert volts(run, "wire_W1") < 0.01
