from __future__ import annotations

import pytest
from traced import BLOWER, COMPRESSOR, CONTACTOR, DRAFT, INDUCER, LIMIT, MIN, VALVE, S, Traced

ALARM, HUMIDIFIER, DEHUMIDIFY, FRESH = (
    "leak_alarm by contact", "humidifier by coil_volts", "dehumidify by contact", "fresh_air by coil_volts",
)  # fmt: skip
LEAK, SHOP, MOIST, PANEL = "a2l-split", "shop-accessories", "furnace-humidifier", "zone-panel"
DAMPER_1, DAMPER_2 = "damper_1 by contact", "damper_2 by contact"


def switched(traced: Traced, name: str, state: str, run: int) -> Traced:
    traced.plant.switch(name, state)  # type: ignore[arg-type]
    return traced.wait(run)


def test_a_leak_cuts_y_and_runs_the_blower_without_any_call() -> None:
    unit = switched(Traced(LEAK).call("Y1", "G", run=5 * MIN), "leak_sensor", "open", 30 * S)
    assert unit.state[COMPRESSOR] == "off"
    assert unit.call(run=20 * MIN).state[BLOWER] == "on"
    assert unit.state[ALARM] == "on"


def test_the_blower_goes_on_for_minutes_after_the_air_is_clear() -> None:
    unit = switched(Traced(LEAK), "leak_sensor", "open", MIN)
    back = unit.plant.now
    switched(unit, "leak_sensor", "closed", 20 * MIN)
    assert unit.at(ALARM, "off", after=back) < back + S
    assert unit.at(BLOWER, "off", after=back) - back == pytest.approx(5.5 * MIN, abs=S)


def test_a_leak_that_comes_back_starts_the_time_anew() -> None:
    unit = switched(Traced(LEAK), "leak_sensor", "open", MIN)
    switched(unit, "leak_sensor", "closed", 4 * MIN)
    switched(unit, "leak_sensor", "open", MIN)
    back = unit.plant.now
    switched(unit, "leak_sensor", "closed", 20 * MIN)
    assert unit.at(BLOWER, "off") - back == pytest.approx(5.5 * MIN, abs=S)


def test_a_sensor_away_for_less_than_the_answer_time_does_nothing() -> None:
    unit = switched(Traced(LEAK), "leak_sensor", "open", S)
    switched(unit, "leak_sensor", "closed", MIN)
    assert not unit.times(ALARM, "on")
    assert not unit.times(BLOWER, "on")


@pytest.mark.parametrize(("heat", "burns"), [("locked", False), ("allowed", True)])
def test_heat_in_a_leak_is_as_the_maker_says(heat: str, burns: bool) -> None:
    unit = Traced(LEAK, settings={"leak.board.heat_on_leak": heat})
    switched(unit, "leak_sensor", "open", MIN).call("W1", run=3 * MIN)
    assert bool(unit.times(VALVE, "on")) is burns


def test_smoke_stops_the_blower_that_the_leak_runs() -> None:
    unit = switched(Traced(LEAK), "leak_sensor", "open", MIN)
    switched(unit, "smoke_detector", "open", MIN)
    assert unit.state[BLOWER] == "off"
    assert switched(unit, "smoke_detector", "closed", MIN).state[BLOWER] == "on"


def test_a_float_in_y_stops_the_compressor_and_leaves_the_blower() -> None:
    unit = switched(Traced(LEAK).call("Y1", "G", run=5 * MIN), "float_switch", "open", 5 * MIN)
    assert (unit.state[COMPRESSOR], unit.state[BLOWER]) == ("off", "on")


def test_a_float_in_r_takes_everything() -> None:
    unit = switched(Traced(SHOP).call("Y1", "G", run=5 * MIN), "float_switch", "open", 5 * MIN)
    assert (unit.state[COMPRESSOR], unit.state[BLOWER]) == ("off", "off")
    assert unit.state["wire_Y1 by call_volts"] == "off"


@pytest.mark.parametrize(("outdoor", "strips", "runs"), [(10.0, False, True), (-2.0, True, True), (-18.0, True, False)])
def test_outdoor_thermostats_keep_strips_and_compressor_out(outdoor: float, *, strips: bool, runs: bool) -> None:
    unit = Traced("heat-pump-outdoor-thermostats")
    unit.plant.surroundings({"outdoor_air": outdoor})
    unit.call("Y1", "B", "G", "W1", run=5 * MIN)
    assert ((unit.state["strip_1 by amps"] == "on"), (unit.state[COMPRESSOR] == "on")) == (strips, runs)


def test_emergency_heat_and_a_defrost_go_past_the_aux_lockout() -> None:
    unit = Traced("heat-pump-outdoor-thermostats")
    unit.plant.surroundings({"outdoor_air": 10.0})
    assert unit.call("E", "G", run=5 * MIN).state["strip_1 by amps"] == "on"
    unit.plant.surroundings({"outdoor_air": 6.0})
    unit.call(run=10 * MIN).call("Y1", "B", "G", run=8 * MIN)
    unit.plant.press("defrost_test")
    begun = unit.plant.now
    assert unit.wait(5 * MIN).at("strip_1 by amps", "on", after=begun)


def test_a_condensate_pump_that_overflows_breaks_y_and_lights_its_lamp() -> None:
    unit = switched(Traced(MOIST).call("Y1", "G", run=MIN), "float_switch", "open", S)
    assert (unit.state["alarm by contact"], unit.state[CONTACTOR]) == ("on", "off")
    assert switched(unit, "float_switch", "closed", S).state["alarm by contact"] == "off"


@pytest.mark.parametrize(
    ("maker", "with_"), [("inducer", INDUCER), ("pressure_switch", DRAFT), ("gas_valve", VALVE), ("blower", BLOWER)]
)
def test_the_humidifier_goes_live_with_what_its_maker_chose(maker: str, with_: str) -> None:
    unit = Traced(MOIST, settings={"furnace.humidifier_output.live_with": maker}).call("W1", "HUM", run=5 * MIN)
    on, off = ("closed", "open") if with_ == DRAFT else ("on", "off")
    assert unit.at(HUMIDIFIER, "on") == pytest.approx(unit.at(with_, on), abs=20)
    unit.call("HUM", run=5 * MIN)
    assert unit.at(HUMIDIFIER, "off") == pytest.approx(unit.at(with_, off), abs=20)


def test_the_humidifier_needs_heat_and_humidistat() -> None:
    assert not Traced(MOIST).call("HUM", run=5 * MIN).times(HUMIDIFIER, "on")
    assert not Traced(MOIST).call("W1", run=5 * MIN).times(HUMIDIFIER, "on")


@pytest.mark.parametrize(("polarity", "dead", "live"), [("drop", "on", "off"), ("energise", "off", "on")])
def test_dehumidify_asks_for_less_air_in_its_own_polarity(polarity: str, dead: str, live: str) -> None:
    unit = Traced(SHOP, settings={"air_handler.dehumidify.polarity": polarity}).call("Y1", "G", run=MIN)
    assert unit.state[DEHUMIDIFY] == dead
    before = unit.plant._air.flow
    unit.call("Y1", "G", "DEHUM", run=MIN)
    assert unit.state[DEHUMIDIFY] == live
    assert (unit.plant._air.flow < before) is (live == "on")


def test_fresh_air_follows_the_fan_and_the_weather_with_a_differential() -> None:
    unit = Traced(SHOP)
    unit.plant.surroundings({"outdoor_air": 20.0})
    assert unit.call("G", run=MIN).state[FRESH] == "on"
    for outdoor, state in ((36.0, "on"), (38.0, "off"), (36.0, "off"), (30.0, "on")):
        unit.plant.surroundings({"outdoor_air": outdoor})
        assert unit.wait(S).state[FRESH] == state, outdoor
    assert unit.call(run=S).state[FRESH] == "off"


def test_a_zone_that_calls_shuts_the_other_ones_damper_and_both_calling_open_both() -> None:
    panel = Traced(PANEL).call("W1", run=2 * MIN)
    assert (panel.state[DAMPER_1], panel.state[DAMPER_2]) == ("open", "closed")
    panel.call("W1", "W2", run=MIN)
    assert (panel.state[DAMPER_1], panel.state[DAMPER_2]) == ("open", "open")
    panel.call("W2", run=MIN)
    assert (panel.state[DAMPER_1], panel.state[DAMPER_2]) == ("closed", "open")
    assert len(panel.times(VALVE, "on")) == 1
    panel.call(run=5 * MIN)
    assert (panel.state[DAMPER_1], panel.state[DAMPER_2]) == ("open", "open")


def test_opposite_zones_are_served_one_after_the_other_with_the_changeover_between() -> None:
    panel = Traced(PANEL, settings={"panel.panel.changeover_delay": "3 min"})
    panel.call("W1", run=5 * MIN).call("W1", "Y2", run=10 * MIN)
    assert not panel.times(CONTACTOR, "on")
    ended = panel.plant.now
    panel.call("Y2", run=10 * MIN)
    assert panel.at(VALVE, "off") < ended + S
    assert ended + 3 * MIN <= panel.at(CONTACTOR, "on") <= ended + 3 * MIN + 10 * S


def test_the_fan_call_of_a_panel_moves_no_damper() -> None:
    panel = Traced(PANEL).call("G", run=5 * MIN)
    assert panel.state[BLOWER] == "on"
    assert panel.state[LIMIT] == "closed"
    assert not panel.times(DAMPER_1, "closed")
    assert not panel.times(DAMPER_2, "closed")


def test_a_call_shorter_than_the_dampers_lead_starts_nothing() -> None:
    panel = Traced(PANEL).call("W1", run=3 * S).call(run=5 * MIN)
    assert not panel.times(INDUCER, "on")


def test_while_the_dampers_stand_after_a_call_the_panel_still_answers_fan_and_opposite_mode() -> None:
    panel = Traced(PANEL).call("Y1", run=5 * MIN).call("G", run=10 * S)
    assert panel.state[BLOWER] == "on"
    panel.call("W1", run=10 * S)
    assert panel.state[INDUCER] == "on"
