"""Heat pumps: the valve, its habits and its pilot; heating by the weather; defrost and the pitfalls of forcing one."""

from __future__ import annotations

import pytest
from traced import BLOWER, COMPRESSOR, MIN, OUTDOOR_FAN, S, Traced

from stagecall.errors import UsageError

COIL, DEFROST, AUX, STRIP = (
    "reversing_valve by coil_volts",
    "defrost by contact",
    "aux_heat by coil_volts",
    "strip_1 by amps",
)
O_PUMP, B_PUMP, TWO_STAGE = "heat-pump-strips-o", "heat-pump-strips-b", "heat-pump-two-stage"


def pump(name: str = O_PUMP, outdoor: float = -3.0, room: float = 21.0, seed: int = 0, **settings: str) -> Traced:
    parts = {f"heat_pump.{key.replace('__', '.')}": value for key, value in settings.items()}
    unit = Traced(name, settings=parts, seed=seed)
    unit.plant.surroundings({"outdoor_air": outdoor, "room_air": room})
    return unit


def split(unit: Traced) -> float:
    """Supply less return air, kelvin."""
    return unit.plant.read("air_split")


def forced(unit: Traced, heat: int = 8 * MIN) -> Traced:
    """Heat, then have a person join the test pins and watch for half an hour."""
    valve = ("B",) if unit.state.get("wire_B by call_volts") else ()
    unit.call("Y1", "G", *valve, run=heat)
    unit.plant.press("defrost_test")
    return unit.wait(30 * MIN)


@pytest.mark.parametrize(
    ("name", "calls", "warms"),
    [
        (O_PUMP, (), True),
        (O_PUMP, ("O",), False),
        (B_PUMP, ("B",), True),
        (B_PUMP, (), False),
        (TWO_STAGE, (), True),
        (TWO_STAGE, ("O",), False),
    ],
)
def test_the_air_tells_the_direction_by_each_convention(name: str, calls: tuple[str, ...], warms: bool) -> None:
    unit = pump(name, outdoor=15.0).call("Y1", "G", *calls, run=10 * MIN)
    assert (split(unit) > 5.0) if warms else (split(unit) < -5.0)
    assert unit.state[COIL] == ("heat" if warms else "cool")


@pytest.mark.parametrize(("fahrenheit", "rise"), [(60, 30.0), (47, 25.6), (35, 21.2), (17, 16.0), (5, 12.3)])
def test_the_rise_follows_the_published_table(fahrenheit: float, rise: float) -> None:
    unit = pump(outdoor=(fahrenheit - 32) / 1.8).call("Y1", "G", run=15 * MIN)
    assert split(unit) * 1.8 == pytest.approx(rise, abs=0.8)


def test_the_low_stage_gives_less_than_the_high_one() -> None:
    unit = pump(TWO_STAGE, outdoor=10.0).call("Y1", "G", run=15 * MIN)
    low = split(unit)
    unit.call("Y1", "Y2", "G", run=15 * MIN)
    assert split(unit) == pytest.approx(low / 0.67, rel=0.02)


def test_o_may_be_live_with_everything_off_and_nothing_runs() -> None:
    unit = pump().call("O", run=10 * MIN)
    assert unit.state[COIL] == "cool"
    assert not unit.times(COMPRESSOR, "on")


def test_a_latched_valve_keeps_its_mode_until_a_compressor_call_of_the_other() -> None:
    unit = pump(outdoor=15.0, board__valve_habit="latched").call("Y1", "G", "O", run=5 * MIN).call(run=10 * MIN)
    assert unit.state[COIL] == "cool"
    unit.call("Y1", "G", run=MIN)
    assert unit.state[COIL] == "heat"


def test_some_boards_move_the_valve_only_once_the_compressor_has_run_five_seconds() -> None:
    unit = pump(TWO_STAGE, outdoor=15.0).call("Y1", "G", "O", run=5 * MIN)
    assert unit.at(COIL, "cool") - unit.at(COMPRESSOR, "on") == pytest.approx(5 * S, abs=200)


def test_a_pilot_valve_shifts_only_once_the_pressures_are_apart() -> None:
    unit = pump(outdoor=15.0)
    valve = unit.plant._parts["heat_pump.reversing_valve"]
    shifted: list[int] = []
    valve.cools.listen(lambda _: shifted.append(unit.plant.now))  # type: ignore[attr-defined]
    unit.call("O", "G", run=10 * MIN)
    assert shifted == []
    unit.call("Y1", "O", "G", run=5 * MIN)
    assert 10 * S < shifted[0] - unit.at(COMPRESSOR, "on") < 3 * MIN


@pytest.mark.parametrize(("slide", "calls"), [("stuck_heat", ("O",)), ("stuck_cool", ())])
def test_a_stuck_slide_shows_in_the_air_and_not_at_the_coil(slide: str, calls: tuple[str, ...]) -> None:
    unit = pump(outdoor=15.0, reversing_valve__slide=slide).call("Y1", "G", *calls, run=10 * MIN)
    assert unit.state[COIL] == ("cool" if calls else "heat")
    assert (split(unit) > 0) == (slide == "stuck_heat")


def test_a_forced_defrost_runs_fan_off_valve_to_cool_strips_on_and_back() -> None:
    unit = forced(pump())
    begin, end = unit.at(DEFROST, "on"), unit.at(DEFROST, "off")
    assert MIN < end - begin < 10 * MIN
    assert abs(unit.at(COIL, "cool") - begin) < 100
    assert abs(unit.at(OUTDOOR_FAN, "off") - begin) < 100
    assert unit.at(AUX, "on") - begin < 100
    assert unit.at(STRIP, "on") - unit.at(AUX, "on") == pytest.approx(20 * S, abs=100)
    assert unit.at(AUX, "off") - end == pytest.approx(15 * S, abs=100)
    assert unit.at(OUTDOOR_FAN, "on", after=end) - end == pytest.approx(20 * S, abs=100)
    assert not unit.times(COMPRESSOR, "off")


def test_a_quiet_board_stops_the_compressor_before_each_move_of_the_valve() -> None:
    unit = forced(pump(B_PUMP))
    offs, ons = unit.times(COMPRESSOR, "off"), unit.times(COMPRESSOR, "on")[1:]
    assert [on - off for off, on in zip(offs, ons, strict=True)] == pytest.approx([33 * S, 33 * S], abs=300)
    assert offs[0] < unit.at(COIL, "cool") < ons[0]
    assert offs[1] < unit.at(COIL, "heat", after=ons[0]) < ons[1]


def test_with_the_sensor_open_a_forced_defrost_lasts_some_thirty_seconds() -> None:
    unit = forced(pump(outdoor=12.0))
    assert unit.at(DEFROST, "off") - unit.at(DEFROST, "on") == pytest.approx(30 * S, abs=200)


def test_pins_left_joined_run_the_whole_time_limit_out_in_seconds() -> None:
    unit = forced(pump(board__test_held="20 s"))
    assert unit.at(DEFROST, "off") - unit.at(DEFROST, "on") < 3 * S


def test_pins_let_go_too_soon_force_nothing() -> None:
    assert not forced(pump(board__test_held="1 s")).times(DEFROST, "on")


def test_a_sensor_that_never_opens_leaves_the_defrost_to_the_clock() -> None:
    unit = forced(pump(coil_thermostat__contact="stuck_closed", board__defrost_time_limit="14 min"))
    assert unit.at(DEFROST, "off") - unit.at(DEFROST, "on") == pytest.approx(14 * MIN, abs=S)


def test_a_sensor_off_its_clip_in_frosty_air_leaves_the_defrost_to_the_clock_and_ends_it_when_put_back() -> None:
    off = pump()
    off.plant.switch("defrost_sensor_clip", "open")
    forced(off)
    assert off.at(DEFROST, "off") - off.at(DEFROST, "on") == pytest.approx(10 * MIN, abs=S)

    back = pump().call("Y1", "G", run=8 * MIN)
    back.plant.switch("defrost_sensor_clip", "open")
    back.plant.press("defrost_test")
    back.wait(8 * MIN)
    back.plant.switch("defrost_sensor_clip", "closed")
    put_back = back.plant.now
    assert back.wait(MIN).at(DEFROST, "off") - put_back < S


def test_a_sensor_off_its_clip_in_mild_air_opens_at_once() -> None:
    unit = pump()
    unit.call("Y1", "G", run=8 * MIN)
    unit.plant.press("defrost_test")
    unit.wait(5 * S).plant.surroundings({"outdoor_air": 20.0})
    unit.plant.switch("defrost_sensor_clip", "open")
    opened = unit.plant.now
    assert unit.wait(MIN).at(DEFROST, "off") - opened < S


@pytest.mark.parametrize("calls", [(), ("Y1", "G", "O")])
def test_the_pins_do_nothing_at_rest_or_in_cooling(calls: tuple[str, ...]) -> None:
    unit = pump(outdoor=25.0).call(*calls, run=5 * MIN)
    unit.plant.press("defrost_test")
    assert not unit.wait(5 * MIN).times(DEFROST, "on")


def test_a_system_without_test_pins_says_so() -> None:
    with pytest.raises(UsageError, match="nothing on system cooling-only has a test called 'defrost_test'"):
        Traced("cooling-only").plant.press("defrost_test")


@pytest.mark.parametrize("interval", [30, 60, 90])
def test_a_timed_defrost_is_due_after_its_interval_of_heating_with_a_cold_coil(interval: int) -> None:
    unit = pump(board__defrost_interval=f"{interval} min").call("Y1", "G", run=100 * MIN)
    begin = unit.at(DEFROST, "on") - unit.at(COMPRESSOR, "on")
    assert interval * MIN < begin < (interval + 2) * MIN


def test_rests_between_runs_do_not_count_towards_the_interval() -> None:
    unit = pump(board__defrost_interval="30 min")
    for _ in range(2):
        unit.call("Y1", "G", run=20 * MIN).call("G", run=10 * MIN)
    assert 10 * MIN < unit.at(DEFROST, "on") - unit.times(COMPRESSOR, "on")[1] < 13 * MIN


@pytest.mark.parametrize(("habit", "minutes"), [("keeps", 10), ("clears", 30)])
def test_a_coil_that_warms_meanwhile_clears_the_count_or_not(habit: str, minutes: int) -> None:
    unit = pump(board__defrost_interval="30 min", board__warm_coil=habit).call("Y1", "G", run=21 * MIN)
    unit.plant.surroundings({"outdoor_air": 30.0})
    unit.wait(10 * MIN)
    unit.plant.surroundings({"outdoor_air": -3.0})
    cold = unit.wait(90 * MIN).at(DEFROST, "on") - 31 * MIN
    assert (minutes - 2) * MIN < cold < (minutes + 5) * MIN


def test_a_warm_coil_is_never_defrosted() -> None:
    assert not pump(outdoor=10.0).call("Y1", "G", run=200 * MIN).times(DEFROST, "on")


def test_a_demand_control_defrosts_by_frost_and_not_in_dry_cold() -> None:
    unit = pump(B_PUMP, outdoor=0.0).call("Y1", "G", "B", run=120 * MIN)
    assert 30 * MIN < unit.at(DEFROST, "on") < 90 * MIN
    dry = pump(B_PUMP, outdoor=0.0, circuit__frost_full="1 °F").call("Y1", "G", "B", run=240 * MIN)
    assert not dry.times(DEFROST, "on")


def test_a_call_that_ends_in_a_defrost_ends_it_too() -> None:
    unit = pump().call("Y1", "G", run=8 * MIN)
    unit.plant.press("defrost_test")
    unit.wait(30 * S).call(run=5 * MIN)
    assert unit.at(DEFROST, "off") - unit.at(COMPRESSOR, "off") < 200
    assert unit.state[AUX] == unit.state[STRIP] == unit.state[OUTDOOR_FAN] == "off"


def test_the_low_pressure_switch_is_blind_in_a_defrost_and_at_a_start_and_trips_afterwards() -> None:
    unit = pump()
    unit.plant.switch("low_pressure", "open")
    unit.call("Y1", "G", run=5 * MIN)
    assert unit.at(COMPRESSOR, "off") - unit.at(COMPRESSOR, "on") == pytest.approx(91 * S, abs=S)

    unit = pump().call("Y1", "G", run=8 * MIN)
    unit.plant.press("defrost_test")
    unit.wait(20 * S)
    unit.plant.switch("low_pressure", "open")
    unit.wait(MIN)
    unit.plant.switch("low_pressure", "closed")
    assert not unit.wait(10 * MIN).times(COMPRESSOR, "off")


def test_in_a_defrost_the_board_itself_feeds_the_heat_wire_that_the_control_left_dead() -> None:
    unit = forced(pump())
    assert abs(unit.at("wire_W1 by call_volts", "on") - unit.at(DEFROST, "on")) < 100


def test_pressures_of_a_healthy_heat_pump_keep_both_switches_closed_in_any_weather_it_is_tested_in() -> None:
    for outdoor, valve in ((-8.0, ()), (5.0, ()), (18.0, ()), (18.0, ("O",)), (46.0, ("O",))):
        unit = pump(outdoor=outdoor).call("Y1", "G", *valve, run=30 * MIN)
        assert unit.state["high_pressure by contact"] == unit.state["low_pressure by contact"] == "closed"
        assert not unit.times(COMPRESSOR, "off")
        assert unit.state[BLOWER] == "on"
