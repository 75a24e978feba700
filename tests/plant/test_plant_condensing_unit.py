from __future__ import annotations

import pytest
from traced import COMPRESSOR, CONTACTOR, MIN, OUTDOOR_FAN, S, Traced, fault

HIGH, LOW = "high_pressure by contact", "low_pressure by contact"
INPUT = 100  # ms that the typical board filters its inputs


def test_a_cooling_call_pulls_in_contactor_compressor_and_outdoor_fan_at_once() -> None:
    unit = Traced().call("Y1", "G", run=MIN)
    assert unit.at(CONTACTOR, "on") == 8 + INPUT + 10  # the control's relay, the board's input, the board's relay
    assert unit.at(COMPRESSOR, "on") == unit.at(OUTDOOR_FAN, "on") == unit.at(CONTACTOR, "on") + 25
    assert unit.at("contactor by contact", "on") == unit.at(COMPRESSOR, "on")


def test_the_contactor_lets_go_with_the_call() -> None:
    unit = Traced().call("Y1", run=MIN).call(run=S)
    assert unit.at(CONTACTOR, "off") == MIN + 4
    assert unit.at(COMPRESSOR, "off") == MIN + 4 + 12


def test_called_early_the_compressor_waits_out_its_minimum_off() -> None:
    unit = Traced().call("Y1", run=MIN).call(run=5 * S).call("Y1", run=10 * MIN)
    off, on = unit.at(COMPRESSOR, "off"), unit.at(COMPRESSOR, "on", after=MIN)
    assert 5 * MIN <= on - off <= 5 * MIN + S


def test_called_late_it_does_not_wait_again() -> None:
    unit = Traced().call("Y1", run=MIN).call(run=6 * MIN).call("Y1", run=MIN)
    assert unit.at(COMPRESSOR, "on", after=7 * MIN) == 7 * MIN + 8 + INPUT + 10 + 25


def test_a_call_that_comes_and_goes_during_the_minimum_off_does_not_lengthen_it() -> None:
    unit = Traced().call("Y1", run=MIN).call(run=MIN).call("Y1", run=MIN).call(run=MIN).call("Y1", run=10 * MIN)
    off, on = unit.at(COMPRESSOR, "off"), unit.at(COMPRESSOR, "on", after=MIN)
    assert 5 * MIN <= on - off <= 5 * MIN + S


def test_after_a_power_interruption_it_waits_its_power_up_delay_and_a_random_part() -> None:
    delays = set()
    for seed in range(4):
        unit = Traced(seed=seed).call("Y1", run=MIN)
        unit.plant.power(False)
        unit.wait(3 * S)
        back = unit.plant.now
        unit.plant.power(True)
        unit.wait(10 * MIN)
        delay = unit.at(COMPRESSOR, "on", after=back) - back
        assert 5 * MIN + 2 * S <= delay <= 5 * MIN + 12 * S + 500
        delays.add(delay)
    assert len(delays) == 4


def test_each_power_up_draws_its_own_random_part() -> None:
    unit = Traced().call("Y1", run=MIN)
    delays = []
    for _ in range(3):
        unit.plant.power(False)
        unit.wait(S)
        back = unit.plant.now
        unit.plant.power(True)
        unit.wait(8 * MIN)
        delays.append(unit.at(COMPRESSOR, "on", after=back) - back)
    assert len(set(delays)) == 3


def test_a_flicker_shorter_than_the_ride_through_leaves_the_board_running_but_drops_the_contactor() -> None:
    unit = Traced().call("Y1", run=MIN)
    unit.plant.power(False)
    unit.wait(30)
    unit.plant.power(True)
    unit.wait(MIN)
    assert unit.at(COMPRESSOR, "on", after=MIN) < MIN + S


def test_without_its_timer_the_compressor_starts_against_pressure() -> None:
    unit = Traced(faults=(fault("minimum-off-timer-missing"),)).call("Y1", run=MIN).call(run=5 * S)
    unit.call("Y1", run=MIN)
    assert unit.at(COMPRESSOR, "on", after=MIN) < MIN + 6 * S


def still_fan(**settings: str) -> Traced:
    """The outdoor fan's motor is dead: the high side climbs."""
    return Traced(settings={"condenser.outdoor_fan.motor": "dead", **settings})


def test_with_the_outdoor_fan_still_high_pressure_trips_after_one_to_five_minutes() -> None:
    unit = still_fan()
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=10 * MIN)
    assert MIN <= unit.at(HIGH, "open") - unit.at(COMPRESSOR, "on") <= 5 * MIN
    assert unit.at(COMPRESSOR, "off") - unit.at(HIGH, "open") < 200
    assert unit.at(HIGH, "closed") > unit.at(HIGH, "open")


def test_high_pressure_trips_are_counted_and_lock_out_until_the_call_goes() -> None:
    unit = still_fan()
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=120 * MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 3
    unit.call("G", run=S).call("Y1", "G", run=MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 4


def test_between_trips_the_minimum_off_holds() -> None:
    unit = still_fan()
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=60 * MIN)
    offs, ons = unit.times(COMPRESSOR, "off"), unit.times(COMPRESSOR, "on")[1:]
    assert offs
    assert all(on - off >= 5 * MIN for off, on in zip(offs, ons, strict=False))


def test_a_lockout_that_ends_with_the_power_survives_the_call() -> None:
    unit = still_fan(**{"condenser.board.lockout_ends_with": "power"})
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=120 * MIN).call("G", run=MIN).call("Y1", "G", run=30 * MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 3
    unit.plant.power(False)
    unit.wait(S)
    unit.plant.power(True)
    unit.wait(10 * MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 4


def test_a_person_can_clear_a_pressure_lockout() -> None:
    unit = still_fan()
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=120 * MIN)
    unit.plant.clear("pressure-lockout")
    unit.wait(MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 4


@pytest.mark.parametrize(("bypass", "runs"), [("30 s", 30 * S), ("90 s", 90 * S), ("180 s", 180 * S)])
def test_low_pressure_is_ignored_at_the_start(bypass: str, runs: int) -> None:
    unit = Traced(settings={"condenser.circuit.charge": "22 %", "condenser.board.low_pressure_bypass": bypass})
    unit.plant.surroundings({"outdoor_air": 29.0})
    unit.call("Y1", "G", run=5 * MIN)
    on, off = unit.at(COMPRESSOR, "on"), unit.at(COMPRESSOR, "off")
    assert on < unit.at(LOW, "open") < on + 30 * S
    assert runs <= off - on <= runs + 2 * S


def test_a_low_pressure_switch_must_stay_open_for_its_delay_to_count() -> None:
    unit = Traced(settings={"condenser.board.low_pressure_delay": "10 s"}).call("Y1", "G", run=3 * MIN)
    unit.plant.switch("low_pressure", "open")
    unit.wait(8 * S)
    unit.plant.switch("low_pressure", "closed")
    unit.wait(MIN)
    assert not unit.times(COMPRESSOR, "off")
    unit.plant.switch("low_pressure", "open")
    unit.wait(11 * S)
    assert len(unit.times(COMPRESSOR, "off")) == 1


def test_a_circuit_without_charge_never_closes_its_low_pressure_switch() -> None:
    unit = Traced(settings={"condenser.circuit.charge": "5 %"})
    assert unit.state[LOW] == "open"


def test_an_open_high_pressure_switch_lets_nothing_start() -> None:
    unit = Traced()
    unit.plant.switch("high_pressure", "open")
    unit.call("Y1", "G", run=5 * MIN)
    assert not unit.times(COMPRESSOR, "on")
    unit.plant.switch("high_pressure", "closed")
    unit.wait(MIN)
    assert len(unit.times(COMPRESSOR, "on")) == 1


def test_without_capacitor_the_compressor_hums_in_bursts_until_its_overload_opens() -> None:
    unit = Traced(faults=(fault("run-capacitor-dead"),)).call("Y1", "G", run=45 * MIN)
    ons, offs = unit.times(COMPRESSOR, "on"), unit.times(COMPRESSOR, "off")
    assert [off - on for on, off in zip(ons, offs, strict=True)] == [8 * S] * 3
    assert [later - earlier for earlier, later in zip(offs, ons[1:], strict=False)] == [20 * MIN] * 2
    assert len(unit.times(OUTDOOR_FAN, "on")) == 1
    assert not unit.times(OUTDOOR_FAN, "off")
    assert len(unit.times("compressor by load_volts", "on")) == 1


def test_pressures_of_a_healthy_unit_keep_both_switches_closed_in_any_weather_it_is_tested_in() -> None:
    for outdoor in (18.0, 29.0, 46.0):
        unit = Traced()
        unit.plant.surroundings({"outdoor_air": outdoor, "room_air": 24.0})
        unit.call("Y1", "G", run=60 * MIN)
        assert unit.state[HIGH] == unit.state[LOW] == "closed"
        assert not unit.times(COMPRESSOR, "off")
