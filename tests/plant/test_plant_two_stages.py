"""Two stages of gas heat and of cooling, and a blower that is told its airflow."""

from __future__ import annotations

import msgspec
import pytest
from traced import (
    BLOWER,
    COMPRESSOR,
    CONTACTOR,
    FLAME,
    INDUCER,
    LIBRARY,
    LIMIT,
    MIN,
    OUTDOOR_FAN,
    VALVE,
    S,
    Traced,
    system,
)  # fmt: skip

from stagecall.plant import Blueprint, blueprint

SYSTEM = "two-stage-gas-cool"
HIGH_VALVE, HIGH_DRAFT = "gas_valve_high by coil_volts", "pressure_switch_high by contact"
HIGH_COMPRESSOR = "compressor_high by coil_volts"


def furnace(**board: str) -> Traced:
    return Traced(SYSTEM, settings={f"furnace.board.{name}": value for name, value in board.items()})


def flow(run: Traced) -> float:
    """The air stream, CFM."""
    return run.plant._air.flow / 0.0004719474


def amps(run: Traced) -> float:
    return float(run.plant._parts["furnace.blower"].amps.value)  # type: ignore[attr-defined]


# -- gas ---------------------------------------------------------------------------------------------------------------


def test_w1_alone_burns_low() -> None:
    run = furnace().call("W1", run=20 * MIN)

    assert run.times(FLAME, "on")
    assert not run.times(HIGH_VALVE, "on")
    assert not run.times(HIGH_DRAFT, "closed")


def test_w2_brings_draft_first_and_then_high_fire_and_its_end_brings_low_fire_back() -> None:
    run = furnace().call("W1", run=5 * MIN).call("W1", "W2", run=5 * MIN).call("W1", run=MIN)

    assert 5 * MIN < run.at(HIGH_DRAFT, "closed") < run.at(HIGH_VALVE, "on") < 5 * MIN + 15 * S
    assert 10 * MIN < run.at(HIGH_VALVE, "off") < 10 * MIN + S
    assert run.at(HIGH_DRAFT, "open") > run.at(HIGH_VALVE, "off")
    assert not run.times(FLAME, "off")


def test_high_fire_gives_more_heat_and_more_air() -> None:
    run = furnace().call("W1", run=15 * MIN)
    low_flow, low_heat = flow(run), run.plant._air.delivered()
    run.call("W1", "W2", run=15 * MIN)

    assert low_flow == pytest.approx(900)
    assert flow(run) == pytest.approx(1300)
    assert low_heat / run.plant._air.delivered() == pytest.approx(0.65, rel=0.02)


def test_without_draft_for_high_fire_the_burner_stays_low() -> None:
    run = furnace()
    run.plant.switch("pressure_switch_high", "open")
    run.call("W1", "W2", run=10 * MIN)

    assert not run.times(HIGH_VALVE, "on")
    assert run.state[FLAME] == "on"


def test_draft_for_high_fire_lost_shuts_the_second_coil_and_the_flame_burns_on() -> None:
    run = furnace().call("W1", "W2", run=5 * MIN)
    run.plant.switch("pressure_switch_high", "open")
    run.wait(MIN)

    assert 5 * MIN <= run.at(HIGH_VALVE, "off") <= 5 * MIN + 50
    assert run.state[FLAME] == "on"
    run.plant.switch("pressure_switch_high", "closed")
    assert run.wait(30 * S).state[HIGH_VALVE] == "on"


def test_a_board_with_a_timer_goes_to_high_fire_by_itself() -> None:
    run = furnace(upstage="timer", upstage_time="12 min").call("W1", run=15 * MIN)

    assert run.at(HIGH_VALVE, "on") - run.at(FLAME, "on") == pytest.approx(12 * MIN, abs=15 * S)


def test_a_board_that_adapts_stays_longer_on_low_after_a_short_call_and_shorter_after_a_long_one() -> None:
    run = furnace(upstage="adaptive", upstage_time="6 min")

    def low_fire(length: int) -> int | None:
        begun = run.plant.now
        run.call("W1", run=length).call(run=10 * MIN)
        high = [ms for ms in run.times(HIGH_VALVE, "on") if ms > begun]
        return high[0] - run.at(FLAME, "on", after=begun) if high else None

    assert low_fire(5 * MIN) is None
    assert low_fire(20 * MIN) == pytest.approx(8 * MIN, abs=15 * S)
    assert low_fire(20 * MIN) == pytest.approx(6 * MIN, abs=15 * S)


def test_a_furnace_that_lights_on_high_goes_back_to_low_seconds_after() -> None:
    run = furnace(light_off="high", low_again_after="15 s").call("W1", run=10 * MIN)

    assert abs(run.at(HIGH_VALVE, "on") - run.at(VALVE, "on")) < 50
    assert run.at(HIGH_DRAFT, "closed") < run.at(VALVE, "on")
    assert run.at(HIGH_VALVE, "off") - run.at(FLAME, "on") == pytest.approx(15 * S, abs=4 * S)


def test_high_speed_helps_a_low_pressure_switch_that_does_not_make() -> None:
    weak = {"furnace.inducer.low_draft": "0.45 in.w.c."}
    alone = Traced(SYSTEM, settings=weak).call("W1", run=2 * MIN)
    helped = Traced(SYSTEM, settings={**weak, "furnace.board.draft_help_after": "20 s"}).call("W1", run=2 * MIN)

    assert not alone.times(FLAME, "on")
    assert helped.times(FLAME, "on")


def test_after_two_limit_trips_on_low_fire_one_family_goes_on_on_high_fire_alone() -> None:
    run = furnace(low_trips_to_high="2").call("W1", run=3 * MIN)
    for _ in range(2):
        run.plant.switch("limit", "open")
        run.wait(10 * S)
        run.plant.switch("limit", "closed")
        run.wait(4 * MIN)

    assert run.state[HIGH_VALVE] == "on"
    assert run.times(LIMIT, "open")


# -- cooling -----------------------------------------------------------------------------------------------------------


def cooling(*calls: str, run: int = 10 * MIN, outdoor: float = 30.0, **board: str) -> Traced:
    made = Traced(SYSTEM, settings={f"condenser.board.{name}": value for name, value in board.items()})
    made.plant.surroundings({"outdoor_air": outdoor})
    return made.call(*calls, run=run)


def test_y2_shifts_the_compressor_while_it_runs() -> None:
    run = cooling("Y1", "G").call("Y1", "Y2", "G", run=10 * MIN).call("Y1", "G", run=MIN)

    assert 10 * MIN < run.at(HIGH_COMPRESSOR, "on") < 10 * MIN + S
    assert 20 * MIN < run.at(HIGH_COMPRESSOR, "off") < 20 * MIN + S
    assert not run.times(COMPRESSOR, "off")


def test_the_second_stage_gives_more_cold_and_more_air() -> None:
    run = cooling("Y1", "G", run=20 * MIN)
    low_flow, low_cold = flow(run), run.plant._air.delivered()
    run.call("Y1", "Y2", "G", run=20 * MIN)

    assert (low_flow, flow(run)) == pytest.approx((850, 1200))
    assert low_cold / run.plant._air.delivered() == pytest.approx(0.67, rel=0.03)


@pytest.mark.parametrize(("habit", "starts"), [("nothing", False), ("starts", True)])
def test_whether_y2_alone_starts_anything_is_the_boards_habit(habit: str, starts: bool) -> None:
    """A unit that starts on Y2 takes its contactor's power from R; one fed from Y1 cannot."""
    from_r = replumbed({("Y1", "contactor_relay.in"): ("R", "contactor_relay.in")})

    run = Traced(on=from_r, settings={"condenser.board.y2_alone": habit}).call("Y2", "G", run=10 * MIN)

    assert bool(run.times(COMPRESSOR, "on")) == starts
    assert bool(run.times(HIGH_COMPRESSOR, "on")) == starts


def replumbed(joints: dict[tuple[str, str], tuple[str, str]]) -> Blueprint:
    """The system with some of the condensing unit's inner joints changed."""
    profiles = dict(LIBRARY.profiles(system(SYSTEM)))
    unit = profiles["condensing-unit-two-stage"]
    wiring = tuple(joints.get(joint, joint) for joint in unit.wiring)
    return blueprint(system(SYSTEM), profiles | {unit.equipment: msgspec.structs.replace(unit, wiring=wiring)})


@pytest.mark.parametrize(("outdoor", "runs_on"), [(40.0, 60 * S), (30.0, 0)])
def test_in_great_heat_the_outdoor_fan_blows_on(outdoor: float, runs_on: int) -> None:
    run = cooling("Y1", "G", run=5 * MIN, outdoor=outdoor).call(run=5 * MIN)

    assert run.at(OUTDOOR_FAN, "off") - run.at(CONTACTOR, "off") == pytest.approx(runs_on, abs=150)


def test_a_start_meanwhile_keeps_the_outdoor_fan_running() -> None:
    run = cooling("Y1", "G", run=5 * MIN, outdoor=40.0, compressor_minimum_off="10 s")
    run.call(run=20 * S).call("Y1", "G", run=5 * MIN)

    assert not run.times(OUTDOOR_FAN, "off")


def test_the_compressors_heater_rests_while_the_compressor_runs() -> None:
    run = cooling("Y1", "G", run=5 * MIN).call(run=MIN)

    heater = "crankcase_heater by amps"
    assert run.at(heater, "off") == run.at(CONTACTOR, "on") + 25
    assert run.at(heater, "on") == pytest.approx(run.at(CONTACTOR, "off"), abs=20)


# -- brown-out ---------------------------------------------------------------------------------------------------------


def test_a_brown_out_drops_a_contactor_that_would_have_held_and_the_compressor_waits_after_it() -> None:
    run = cooling("Y1", "G", run=5 * MIN)
    run.plant.surroundings({"line_voltage": 74.0})
    run.wait(30 * S)
    assert run.at(CONTACTOR, "off") - 5 * MIN == pytest.approx(S, abs=50)

    run.plant.surroundings({"line_voltage": 120.0})
    run.wait(10 * MIN)

    again = run.at(CONTACTOR, "on", after=5 * MIN)
    assert again - (5 * MIN + 30 * S) == pytest.approx(5 * MIN, abs=S)


def test_a_dip_shorter_than_the_brown_out_time_stops_nothing() -> None:
    run = cooling("Y1", "G", run=5 * MIN, brown_out_time="2 s")
    run.plant.surroundings({"line_voltage": 74.0})
    run.wait(S)
    run.plant.surroundings({"line_voltage": 120.0})
    run.wait(5 * MIN)

    assert not run.times(CONTACTOR, "off")


def test_a_call_that_goes_in_a_brown_out_is_forgotten() -> None:
    run = cooling("Y1", "G", run=5 * MIN)
    run.plant.surroundings({"line_voltage": 74.0})
    run.call(run=10 * S)
    run.plant.surroundings({"line_voltage": 120.0})
    run.wait(15 * MIN)

    assert len(run.times(CONTACTOR, "on")) == 1


# -- the blower --------------------------------------------------------------------------------------------------------


def test_each_call_has_its_own_airflow() -> None:
    run = furnace()
    found = [flow(run.call(*calls, run=5 * MIN)) for calls in (("G",), ("Y1", "G"), ("Y1", "Y2", "G"), ())]

    assert found == pytest.approx([600, 850, 1200, 0])


def test_it_keeps_its_airflow_against_a_dirty_filter_and_draws_more_until_it_cannot() -> None:
    runs = [
        Traced(SYSTEM, settings={"furnace.blower.passage": passage}).call("Y1", "Y2", "G", run=5 * MIN)
        for passage in ("100 %", "75 %", "35 %")
    ]

    assert [flow(run) for run in runs] == pytest.approx([1200, 1200, 600])
    assert amps(runs[0]) < amps(runs[1]) < amps(runs[2])


@pytest.mark.parametrize("broken", [{"motor": "dead"}, {"input_part": "deaf"}])
def test_a_motor_that_is_dead_or_deaf_does_not_turn(broken: dict[str, str]) -> None:
    run = Traced(SYSTEM, settings={f"furnace.blower.{key}": value for key, value in broken.items()})

    run.call("Y1", "G", run=5 * MIN)

    assert flow(run) == 0
    assert not run.times(BLOWER, "on")


def test_a_change_of_speed_is_no_stop() -> None:
    run = furnace().call("Y1", "G", run=5 * MIN).call("Y1", "Y2", "G", run=MIN).call("Y1", "G", run=MIN)

    assert not run.times(BLOWER, "off")


def test_the_inducer_at_rest_and_after_a_call_closes_no_pressure_switch() -> None:
    run = furnace().call("W1", "W2", run=5 * MIN).call(run=5 * MIN)

    assert run.state[HIGH_DRAFT] == run.state["pressure_switch by contact"] == "open"
    assert run.state[INDUCER] == "off"


# -- the air side ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ice", "trips"), [("30 %", False), ("90 %", True)])
def test_ice_on_the_coil_takes_the_air_and_much_of_it_trips_the_low_pressure_switch(ice: str, trips: bool) -> None:
    run = Traced("split-gas-cool", settings={"condenser.circuit.ice": ice}).call("Y1", "G", run=20 * MIN)
    clean = Traced("split-gas-cool").call("Y1", "G", run=20 * MIN)

    assert flow(run) / flow(clean) == pytest.approx(1 - float(ice[:2]) / 100)
    assert bool(run.times("low_pressure by contact", "open")) == trips


@pytest.mark.parametrize(("part", "setting"), [("condenser.circuit.charge", "60 %"), ("condenser.circuit.ice", "60 %")])
def test_little_charge_and_ice_cool_the_house_less(part: str, setting: str) -> None:
    weak = Traced("split-gas-cool", settings={part: setting}).call("Y1", "G", run=4 * MIN)
    sound = Traced("split-gas-cool").call("Y1", "G", run=4 * MIN)

    assert abs(weak.plant._air.delivered()) < 0.7 * abs(sound.plant._air.delivered())


def test_a_dirty_filter_widens_the_split_of_a_blower_with_one_speed() -> None:
    splits = [
        Traced("split-gas-cool", settings={"furnace.blower.passage": passage})
        .call("Y1", "G", run=20 * MIN)
        .plant.read("air_split")
        for passage in ("100 %", "60 %")
    ]

    assert splits[1] < 1.4 * splits[0] < 0
