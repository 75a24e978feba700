"""A fuel kit between thermostat, heat pump and furnace."""

from __future__ import annotations

import pytest
from traced import CONTACTOR, FLAME, INDUCER, MIN, VALVE, S, Traced

SYSTEM = "dual-fuel"
DEFROST, FAN_WIRE = "defrost by contact", "blower by amps"


def dual(outdoor: float = 10.0, **kit: str) -> Traced:
    run = Traced(SYSTEM, settings={f"kit.board.{name}": value for name, value in kit.items()})
    run.plant.surroundings({"outdoor_air": outdoor})
    return run.wait(10 * S)


def together(run: Traced) -> int:
    """Ms in which contactor and gas valve were both energised."""
    state = {CONTACTOR: "off", VALVE: "off"}
    total, since = 0, None
    for ms, key, new in [*run.trace, (run.plant.now, CONTACTOR, "off")]:
        if key in state:
            state[key] = new
            both = set(state.values()) == {"on"}
            if both and since is None:
                since = ms
            elif not both and since is not None:
                total, since = total + ms - since, None
    return total


def test_in_mild_weather_the_heat_pump_heats_and_in_the_cold_the_furnace() -> None:
    mild, cold = (dual(outdoor).call("Y1", "G", run=8 * MIN) for outdoor in (10.0, -10.0))

    assert (mild.state[CONTACTOR], mild.state[VALVE]) == ("on", "off")
    assert (cold.state[CONTACTOR], cold.state[VALVE]) == ("off", "on")


def test_a_kit_without_a_thermostat_outdoors_leaves_the_choice_to_the_call() -> None:
    cold = dual(-10.0, changes_by="thermostat").call("Y1", "G", run=8 * MIN)

    assert (cold.state[CONTACTOR], cold.state[VALVE]) == ("on", "off")
    assert cold.call("W1", run=4 * MIN).state[VALVE] == "on"


def test_it_changes_back_only_when_it_is_warmer_than_where_it_changed_over() -> None:
    run = dual(-10.0, change_over="25 °F", change_back_higher_by="4 °F").call("Y1", "G", run=8 * MIN)
    run.plant.surroundings({"outdoor_air": -3.0})  # 26.6 °F
    assert run.wait(8 * MIN).state[VALVE] == "on"

    run.plant.surroundings({"outdoor_air": -1.5})  # 29.3 °F
    assert run.wait(8 * MIN).state[CONTACTOR] == "on"


def test_w_beside_y_stops_the_pump_before_the_furnace_and_it_comes_back_after_its_time() -> None:
    run = dual(to_furnace_delay="20 s").call("Y1", "G", run=10 * MIN)
    called = run.plant.now
    run.call("Y1", "G", "W1", run=10 * MIN)
    dropped = run.plant.now
    run.call("Y1", "G", run=10 * MIN)

    assert run.at(CONTACTOR, "off") - called < S
    assert run.at(INDUCER, "on") - run.at(CONTACTOR, "off") == pytest.approx(20 * S, abs=S)
    assert run.at(VALVE, "off") - dropped < S
    assert run.at(CONTACTOR, "on", after=called) - dropped == pytest.approx(3 * MIN, abs=2 * S)
    assert together(run) == 0


def test_a_kit_may_hold_the_pump_until_the_plenum_has_cooled_instead() -> None:
    run = dual(pump_waits_for="plenum", plenum_cooled="95 °F").call("Y1", "G", run=10 * MIN)
    run.call("Y1", "G", "W1", run=12 * MIN)
    hot, dropped = run.plant.read("supply_air"), run.plant.now
    while run.call("Y1", "G", run=100).state[CONTACTOR] == "off":
        assert run.plant.now < dropped + 5 * MIN

    assert hot > 45.0
    assert run.plant.read("supply_air") == pytest.approx(35.0, abs=0.3)


def test_a_kit_that_waits_for_the_plenum_gives_the_furnace_back_at_once_when_it_is_asked_for_again() -> None:
    run = dual(pump_waits_for="plenum", plenum_cooled="50 °F").call("Y1", "G", "W1", run=10 * MIN)
    run.call("Y1", "G", run=MIN)
    again = run.plant.now
    run.call("Y1", "G", "W1", run=5 * MIN)

    assert not run.times(CONTACTOR, "on")
    assert run.at(VALVE, "on", after=again) - again < 2 * MIN


def test_a_kit_that_does_not_exclude_lets_both_heat() -> None:
    run = dual(exclusion="missing").call("Y1", "G", run=10 * MIN).call("Y1", "G", "W1", run=5 * MIN)

    assert together(run) > 2 * MIN


def test_w_alone_starts_the_furnace_without_a_wait() -> None:
    run = dual(to_furnace_delay="20 s").call("W1", run=MIN)

    assert run.at(INDUCER, "on") - 10 * S < S


@pytest.mark.parametrize(("habit", "pauses"), [("drops", True), ("keeps", False)])
def test_the_thermostats_g_reaches_the_furnace_or_not_while_it_heats(habit: str, pauses: bool) -> None:
    run = dual(fan_with_gas=habit).call("G", run=MIN).call("G", "W1", run=30 * S)

    assert bool(run.times(FAN_WIRE, "off")) == pauses


def test_cooling_is_none_of_the_kits_business_and_w_in_it_starts_no_furnace() -> None:
    run = dual(28.0).call("O", "Y1", "G", run=10 * MIN).call("O", "Y1", "G", "W1", run=5 * MIN)

    assert run.state[CONTACTOR] == "on"
    assert not run.times(INDUCER, "on")


def test_in_a_defrost_the_furnace_heats_beside_the_compressor_and_stops_with_it() -> None:
    run = Traced(SYSTEM, settings={"heat_pump.board.test_held": "2 s"})
    run.plant.surroundings({"outdoor_air": -2.0})
    run.call("Y1", "G", run=20 * MIN)
    run.plant.press("defrost_test")
    run.wait(15 * MIN)

    begun, ended = run.at(DEFROST, "on"), run.at(DEFROST, "off")
    assert begun < run.at(INDUCER, "on") < begun + S
    assert run.state[CONTACTOR] == "on"
    assert run.state[VALVE] == "off"
    if run.times(FLAME, "on"):
        assert run.at(VALVE, "off") - ended < S


def test_without_power_nothing_is_let_through() -> None:
    run = dual().call("Y1", "G", run=10 * MIN)
    run.plant.power(on=False)

    assert run.wait(MIN).state[CONTACTOR] == "off"
