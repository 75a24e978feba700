from __future__ import annotations

import pytest
from traced import MIN, H, S, Traced

BOILER, VALVE, PUMP, TANK_PUMP = (
    "boiler by contact", "gas_valve by coil_volts", "circulator by amps", "circulator_2 by amps",
)  # fmt: skip
END_1, END_2, LIMIT, WATER = (
    "end_switch_1 by contact", "end_switch_2 by contact", "aquastat by contact", "low_water by contact",
)  # fmt: skip
ALONE, ZONES = "boiler-separate-cooling", "boiler-two-zones"


def test_a_call_starts_the_circulator_at_once_and_the_burner_after_its_delay() -> None:
    boiler = Traced(ALONE).call("W1", run=MIN)
    assert boiler.at(PUMP, "on") < 200
    assert 5 * S < boiler.at(VALVE, "on") < 6 * S


def test_the_circulator_runs_on_after_the_call_and_the_gas_does_not() -> None:
    boiler = Traced(ALONE).call("W1", run=MIN).call(run=10 * MIN)
    assert boiler.at(VALVE, "off") < MIN + S
    assert boiler.at(PUMP, "off") == pytest.approx(3 * MIN, abs=S)


def test_stored_heat_goes_round_before_the_burner_is_fired() -> None:
    boiler = Traced(ALONE, settings={"boiler.control.stored_heat_time": "120 s"}).call("W1", run=25 * MIN)
    assert boiler.at(VALVE, "on") < 6 * S  # cold: no heat is stored
    assert boiler.plant.read("boiler_water") > 60
    boiler.call(run=5 * MIN).call("W1", run=5 * MIN)
    assert boiler.at(VALVE, "on", after=30 * MIN) == pytest.approx(30 * MIN + 125 * S, abs=S)


def test_the_limit_cycles_the_burner_between_its_two_temperatures() -> None:
    settings = {"boiler.body.radiators": "150 W/K"}
    boiler = Traced(ALONE, settings=settings).call("W1", run=3 * H)
    opened, closed = boiler.times(LIMIT, "open"), boiler.times(LIMIT, "closed")
    assert len(opened) >= 3
    hot, cool = (190 - 32) / 1.8, (175 - 32) / 1.8
    for moments, water in ((opened, hot), (closed, cool)):
        again = Traced(ALONE, settings=settings).call("W1", run=moments[1])
        assert again.plant.read("boiler_water") == pytest.approx(water, abs=0.05)
    assert boiler.state[PUMP] == "on"


def test_the_low_water_cutoff_shuts_the_gas_off_and_leaves_the_circulator() -> None:
    boiler = Traced(ALONE).call("W1", run=MIN)
    boiler.plant.switch("low_water", "open")
    boiler.wait(MIN)
    assert boiler.at(VALVE, "off") < MIN + S
    assert boiler.state[PUMP] == "on"


def test_the_heat_of_the_fire_is_the_heat_given_and_the_heat_stored() -> None:
    boiler = Traced(ALONE).call("W1", run=2 * MIN)
    body = boiler.plant._parts["boiler.body"]
    stored = given = taken = 0.0
    before = body.temperature()
    for _ in range(600):
        given += body.given() * 0.5
        taken += body.taken() * 1.0
        boiler.wait(S)
        given += body.given() * 0.5
    stored = body.p.heat_capacity * (body.temperature() - before)
    assert taken == pytest.approx(given + stored, rel=0.005)


def test_a_tankless_boiler_keeps_itself_warm_and_holds_the_circulator_off_below_its_low_limit() -> None:
    boiler = Traced(ALONE, settings={"boiler.control.tankless": "yes"}).wait(MIN)
    assert boiler.state[VALVE] == "on"
    boiler.call("W1", run=5 * MIN)
    assert boiler.plant.read("boiler_water") < 65
    assert boiler.state[PUMP] == "off"
    boiler.wait(H)
    assert boiler.times(PUMP, "on")


def test_without_its_circulator_the_boiler_only_cycles_on_its_limit() -> None:
    boiler = Traced(ALONE, settings={"boiler.circulator.motor": "dead"}).call("W1", run=H)
    assert boiler.state[PUMP] == "off"
    assert boiler.times(LIMIT, "open")
    assert boiler.times(VALVE, "off")


def test_with_the_pilot_out_the_valve_opens_and_the_water_stays_cold() -> None:
    boiler = Traced(ALONE, settings={"boiler.burner.pilot": "out"}).call("W1", run=20 * MIN)
    assert boiler.state[VALVE] == "on"
    assert boiler.plant.read("boiler_water") == pytest.approx(boiler.plant.read("room_air"), abs=0.5)


def test_a_motor_valve_makes_its_end_switch_near_the_end_of_its_way_and_that_calls_the_boiler() -> None:
    zones = Traced(ZONES).call("W1", run=MIN)
    assert zones.at(END_1, "closed") == pytest.approx(18 * S, abs=200)
    assert zones.at(BOILER, "on") == zones.at(END_1, "closed")
    zones.call(run=MIN)
    assert zones.at(END_1, "open") == pytest.approx(MIN + 600, abs=100)


def test_a_wax_valve_takes_minutes_and_cycles_its_heater_without_its_end_switch_moving() -> None:
    zones = Traced(ZONES)
    drawn: list[bool] = []
    zones.plant._parts["zones.transformer"].level("amps").listen(lambda amps: drawn.append(amps > 0.3))
    zones.call("W2", run=15 * MIN)
    assert zones.at(END_2, "closed") == pytest.approx(108 * S, abs=200)
    assert len(zones.times(END_2, "open")) == 0
    assert drawn.count(False) > 10


def test_a_call_that_ends_half_way_turns_the_valve_round_where_it_stands() -> None:
    zones = Traced(ZONES).call("W1", run=10 * S).call(run=2 * S).call("W1", run=MIN)
    place = 0.5 - 2 / 6
    assert zones.at(END_1, "closed") == pytest.approx(12 * S + (0.9 - place) * 20 * S, abs=300)


def test_the_boiler_goes_on_from_one_zone_to_the_other_without_noticing() -> None:
    zones = Traced(ZONES).call("W1", run=MIN).call("W1", "W2", run=3 * MIN).call("W2", run=3 * MIN)
    assert zones.times(BOILER, "on") == [zones.at(END_1, "closed")]
    assert not zones.times(BOILER, "off")


def test_a_stuck_valve_never_calls_the_boiler() -> None:
    zones = Traced(ZONES, settings={"zones.valve_1.body": "stuck"}).call("W1", run=H)
    assert zones.state["zone_valve_1 by coil_volts"] == "on"
    assert zones.state[BOILER] == "off"


def test_an_end_switch_stuck_closed_heats_without_any_call() -> None:
    zones = Traced(ZONES, settings={"zones.end_1.contact": "stuck_closed"}).wait(MIN)
    assert zones.state[BOILER] == zones.state[PUMP] == "on"


def test_with_shut_valves_the_circulator_carries_nothing_away() -> None:
    zones = Traced(ZONES, settings={"zones.end_1.contact": "stuck_closed", "zones.valve_1.body": "stuck"})
    zones.call("W1", run=10 * MIN)
    body = zones.plant._parts["boiler.body"]
    assert zones.state[PUMP] == "on"
    assert body.given() < 0.02 * body.taken()


@pytest.mark.parametrize(("first", "space"), [("yes", "off"), ("no", "on")])
def test_the_tank_comes_first_where_it_is_set_so(first: str, space: str) -> None:
    zones = Traced(ZONES, settings={"boiler.control.hot_water_first": first}).call("W1", run=2 * MIN)
    zones.call("W1", "W3", run=5 * MIN)
    assert zones.state[TANK_PUMP] == "on"
    assert zones.state[PUMP] == space
    zones.call("W1", run=MIN)
    assert (zones.state[TANK_PUMP], zones.state[PUMP]) == ("off", "on")


def test_three_hours_of_a_cycling_boiler_cost_few_events() -> None:
    boiler = Traced(ALONE, settings={"boiler.body.radiators": "150 W/K"})
    env, count = boiler.plant._env, [0]
    step = env.step

    def counted() -> None:
        count[0] += 1
        step()

    env.step = counted  # type: ignore[method-assign]
    boiler.call("W1", run=3 * H)
    assert count[0] < 600
