"""Parts that are worn, burnt, bridged or set wrongly."""

from __future__ import annotations

import pytest
from traced import BLOWER, COMPRESSOR, CONTACTOR, FLAME, LIMIT, MIN, OUTDOOR_FAN, VALVE, S, Traced, fault

from stagecall.errors import UsageError
from stagecall.model.asking import ControlAsk

HOUR = 60 * MIN


def test_an_overload_that_was_open_closes_in_its_time_and_the_compressor_runs() -> None:
    unit = Traced(faults=(fault("compressor-overload-open", "20 min"),)).call("Y1", "G", run=30 * MIN)

    assert unit.state[OUTDOOR_FAN] == "on"
    assert 20 * MIN <= unit.at(COMPRESSOR, "on") <= 20 * MIN + 2 * S


def test_a_motor_of_one_phase_on_one_leg_draws_nothing_and_one_of_three_hums_until_its_overload_opens() -> None:
    one = Traced(faults=(fault("line-leg-lost"),)).call("Y1", "G", run=5 * S)
    assert one.plant.read("compressor_amps") == 0

    three = Traced("shop-three-phase", faults=(fault("line-leg-lost"),)).call("Y1", "G", run=2 * S)
    assert three.plant.read("compressor_amps") > 30
    assert three.wait(MIN).plant.read("compressor_amps") == 0


def test_worn_valves_bring_the_pressures_together_and_the_split_and_the_amps_down() -> None:
    def settled(*faults: object) -> tuple[float, float, float]:
        unit = Traced(faults=faults).call("Y1", "G", run=20 * MIN)  # type: ignore[arg-type]
        circuit = unit.plant._parts["condenser.circuit"]
        apart = circuit.side("high").now() - circuit.side("low").now()
        return apart, -unit.plant.read("air_split"), unit.plant.read("compressor_amps")

    sound, worn = settled(), settled(fault("compressor-worn"))
    assert all(less < more for less, more in zip(worn, sound, strict=True))


def test_too_much_charge_cools_no_better_and_draws_more() -> None:
    sound = Traced().call("Y1", "G", run=20 * MIN)
    full = Traced(faults=(fault("charge-too-much"),)).call("Y1", "G", run=20 * MIN)

    assert full.plant.read("air_split") == pytest.approx(sound.plant.read("air_split"))
    assert full.plant.read("compressor_amps") > 1.1 * sound.plant.read("compressor_amps")


def test_a_blower_that_runs_hot_stops_comes_back_and_stops_again() -> None:
    furnace = Traced(faults=(fault("blower-overload-opens", "5 min"),)).call("G", run=HOUR)

    first, second = furnace.times(BLOWER, "on")[:2]
    assert furnace.at(BLOWER, "off") - first == 5 * MIN
    assert second - furnace.at(BLOWER, "off") == 20 * MIN


def test_a_blower_that_rests_in_between_does_not_run_hot() -> None:
    furnace = Traced(faults=(fault("blower-overload-opens", "5 min"),))
    for _ in range(4):
        furnace.call("G", run=4 * MIN).call(run=MIN)

    assert len(furnace.times(BLOWER, "off")) == 4


def test_a_disturbed_flame_burns_until_the_blower_starts() -> None:
    furnace = Traced(faults=(fault("exchanger-cracked"),)).call("W1", run=3 * MIN)

    assert furnace.at(FLAME, "on") < furnace.at(BLOWER, "on") < furnace.at(VALVE, "off")


def test_a_bridged_limit_cannot_be_opened_and_a_stuck_one_still_can() -> None:
    for name, opens in (("limit-bridged", False), ("limit-stuck-closed", True)):
        furnace = Traced(faults=(fault(name),)).call("W1", run=2 * MIN)
        furnace.plant.switch("limit", "open")
        furnace.wait(10 * S)
        assert (furnace.state[LIMIT] == "open") is opens
        assert (furnace.state[VALVE] == "off") is opens


def test_a_shorted_coil_takes_the_whole_24_volts_down_at_each_call_and_lets_them_come_back() -> None:
    unit = Traced(faults=(fault("contactor-coil-shorted"),)).call("Y1", "G", run=10 * MIN).call(run=MIN)

    assert unit.times(COMPRESSOR, "on") == []
    assert len(unit.times("wire_Y1 by call_volts", "off")) >= 3
    assert unit.plant.read("control_voltage") > 24


def test_an_open_coil_never_pulls_in() -> None:
    unit = Traced("two-stage-gas-cool", faults=(fault("stage-coil-open"),)).call("Y1", "Y2", "G", run=15 * MIN)
    sound = Traced("two-stage-gas-cool").call("Y1", "Y2", "G", run=15 * MIN)

    assert unit.plant.read("compressor_amps") < 0.9 * sound.plant.read("compressor_amps")


def test_a_tired_cut_out_opens_at_the_load_of_cooling_and_closes_when_it_is_cool() -> None:
    unit = Traced(faults=(fault("transformer-cut-out-tired"),)).call("Y1", "G", run=30 * MIN)

    assert len(unit.times(CONTACTOR, "off")) >= 2


@pytest.mark.parametrize(
    ("name", "demand", "live"),
    [
        ("thermostat-set-for-heat-pump", "heat", {"Y1", "G", "W1"}),
        ("thermostat-set-for-heat-pump", "cool", {"Y1", "G"}),
        ("thermostat-set-for-heat-pump-o", "heat", {"Y1", "G"}),
        ("thermostat-set-for-heat-pump-o", "cool", {"Y1", "G", "W1"}),
        ("thermostat-fan-set-for-electric-heat", "heat", {"W1", "G"}),
    ],
)
def test_a_thermostat_calls_as_it_is_set(name: str, demand: str, live: set[str]) -> None:
    unit = Traced(faults=(fault(name),))
    unit.plant.ask_control(ControlAsk(demand=demand, period="unoccupied"))  # type: ignore[arg-type]
    unit.wait(2 * S)

    assert {call for call in ("Y1", "G", "W1") if unit.state[f"wire_{call} by call_volts"] == "on"} == live


def test_an_output_that_the_control_has_not_cannot_be_welded() -> None:
    with pytest.raises(UsageError, match="has no 'W1'"):
        Traced("cooling-only", faults=(fault("control-heat-output-welded"),))
