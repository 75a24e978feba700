from __future__ import annotations

import pytest
from traced import MIN, H, S, Traced

BURNER, BLOWER, ALARM, FLAME, DOOR = (
    "burner by amps", "blower by amps", "alarm by contact", "flame_detector by contact", "door_switch by contact",
)  # fmt: skip
HEAT_ONLY = "two-wire-heat-only"


def furnace(**settings: str) -> Traced:
    return Traced(HEAT_ONLY, settings={f"furnace.{key.replace('__', '.')}": value for key, value in settings.items()})


def test_the_burner_starts_after_its_delay_and_the_blower_when_the_plenum_is_warm() -> None:
    oil = furnace().call("W1", run=15 * MIN)
    assert oil.at(BURNER, "on") == pytest.approx(15 * S, abs=300)
    assert oil.at(FLAME, "closed") == oil.at(BURNER, "on") + 1000
    assert 30 * S < oil.at(BLOWER, "on") - oil.at(BURNER, "on") < 4 * MIN
    assert not oil.times(BLOWER, "off")


def test_after_the_call_the_blower_empties_the_exchanger_and_stops_by_itself() -> None:
    oil = furnace().call("W1", run=15 * MIN).call(run=20 * MIN)
    assert oil.at(BURNER, "off") < 15 * MIN + 300
    assert 15 * MIN + 20 * S < oil.at(BLOWER, "off") < 25 * MIN


@pytest.mark.parametrize(
    "cause", [{"burner__oil": "out"}, {"spark__spark": "dead"}, {"detector__contact": "stuck_open"}]
)
def test_without_a_flame_that_is_seen_it_locks_out_after_the_safety_time(cause: dict[str, str]) -> None:
    oil = furnace(**cause).call("W1", run=H)
    assert len(oil.times(BURNER, "on")) == 1
    assert oil.at(BURNER, "off") - oil.at(BURNER, "on") == pytest.approx(15 * S, abs=100)
    assert oil.state[ALARM] == "on"


def test_a_lockout_outlasts_call_and_power_and_ends_with_the_button() -> None:
    oil = furnace(spark__spark="dead").call("W1", run=MIN).call(run=MIN)
    oil.plant.power(False)
    oil.wait(S)
    oil.plant.power(True)
    oil.call("W1", run=10 * MIN)
    assert len(oil.times(BURNER, "on")) == 1
    oil.plant.clear("ignition_lockout")
    oil.wait(MIN)
    assert len(oil.times(BURNER, "on")) == 2


def test_a_detector_that_sees_light_before_the_start_keeps_the_burner_off() -> None:
    oil = furnace(detector__contact="stuck_closed").call("W1", run=10 * MIN)
    assert not oil.times(BURNER, "on")


@pytest.mark.parametrize("recycles", [1, 3])
def test_a_flame_lost_again_and_again_is_tried_as_often_as_set(recycles: int) -> None:
    oil = furnace(primary__recycles=str(recycles)).call("W1", run=2 * MIN)
    for _ in range(recycles + 1):
        oil.plant.switch("flame_detector", "open")
        oil.wait(5 * S)
        oil.plant.switch("flame_detector", "closed")
        oil.wait(2 * MIN)
    assert len(oil.times(BURNER, "on")) == 1 + recycles
    assert oil.state[ALARM] == "on"


def test_a_flicker_shorter_than_the_response_stops_nothing() -> None:
    oil = furnace().call("W1", run=2 * MIN)
    oil.plant.switch("flame_detector", "open")
    oil.wait(500)
    oil.plant.switch("flame_detector", "closed")
    oil.wait(MIN)
    assert not oil.times(BURNER, "off")


def test_an_open_limit_leaves_the_control_dead_and_the_blower_running() -> None:
    oil = furnace().call("W1", run=10 * MIN)
    oil.plant.switch("limit", "open")
    oil.wait(20 * S)
    assert oil.state["wire_R by call_volts"] == oil.state[BURNER] == "off"
    assert oil.state[BLOWER] == "on"


def test_with_a_dead_blower_the_limit_opens() -> None:
    oil = furnace(blower__motor="dead").call("W1", run=20 * MIN)
    assert oil.times("limit by contact", "open")


def test_an_open_door_kills_burner_blower_and_control() -> None:
    oil = furnace().call("W1", run=10 * MIN)
    oil.plant.switch("door_switch", "open")
    oil.wait(S)
    assert {oil.state[key] for key in (BURNER, BLOWER, "wire_R by call_volts")} == {"off"}
    oil.plant.switch("door_switch", "closed")
    oil.wait(MIN)
    assert oil.state[BURNER] == oil.state[BLOWER] == "on"


def test_two_wires_need_no_common_at_the_control() -> None:
    oil = furnace().call("W1", run=10 * S)
    assert oil.state["wire_W1 by call_volts"] == "on"
    assert oil.call(run=S).state["wire_W1 by call_volts"] == "off"
