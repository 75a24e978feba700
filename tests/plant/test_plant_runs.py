from __future__ import annotations

import pytest
from events_an_hour import events_an_hour, steps_of
from traced import COMPRESSOR, DRAFT, LIMIT, MIN, SPLITS, SYSTEMS, H, S, Traced, plan

from stagecall.errors import UsageError
from stagecall.plant import build
from stagecall.points import point


def test_a_plant_begins_powered_and_at_rest() -> None:
    for name in SPLITS:
        traced = Traced(name)
        on = {key for key, state in traced.state.items() if state == "on"}
        assert on == {"wire_R by call_volts"}
        open_switches = {key for key, state in traced.state.items() if state == "open"}
        assert open_switches == ({DRAFT} if DRAFT in traced.state else set())
        assert traced.wait(10 * MIN).trace == []


def test_time_advances_to_the_millisecond_asked_for_and_what_is_due_then_has_happened() -> None:
    plant = build(plan("split-gas-cool"))
    heard: list[int] = []
    plant.watch_calls(lambda ms, _terminal, _state: heard.append(ms))
    plant.call(frozenset({"Y1"}))
    plant.advance(7)
    assert (plant.now, heard) == (7, [])
    plant.advance(8)
    assert (plant.now, heard) == (8, [8])
    plant.advance(8)
    assert plant.now == 8
    plant.advance(8 * H)
    assert plant.now == 8 * H


def test_advance_to_change_stops_after_the_first_millisecond_in_which_a_listener_was_called() -> None:
    plant = build(plan("split-gas-cool"))
    heard: list[tuple[int, str]] = []
    plant.watch("contactor", "coil_volts", None, lambda ms, state: heard.append((ms, state)))
    plant.watch("compressor", "amps", None, lambda ms, state: heard.append((ms, state)))
    plant.watch("outdoor_fan", "amps", None, lambda ms, state: heard.append((ms, state)))
    plant.call(frozenset({"Y1"}))
    plant.advance_to_change(MIN)
    assert (plant.now, heard) == (118, [(118, "on")])
    plant.advance_to_change(MIN)
    assert (plant.now, len(heard)) == (143, 3)
    plant.advance_to_change(MIN)
    assert plant.now == MIN


def test_stopping_at_every_change_and_running_through_give_the_same_trace() -> None:
    through = Traced().call("Y1", "G", run=10 * MIN).call("W1", run=10 * MIN).trace
    stops = Traced()
    for calls, until in ((("Y1", "G"), 10 * MIN), (("W1",), 20 * MIN)):
        stops.plant.call(frozenset(calls))
        while stops.plant.now < until:
            stops.plant.advance_to_change(until)
    assert stops.trace == through


def test_running_in_small_steps_changes_nothing() -> None:
    through = Traced().call("W1", run=2 * MIN).trace
    steps = Traced()
    steps.plant.call(frozenset({"W1"}))
    for _ in range(120):
        steps.wait(S)
    assert steps.trace == through


def test_a_watcher_is_told_the_state_now_and_every_change_after() -> None:
    plant = build(plan("split-gas-cool"))
    told: list[str] = []
    assert plant.watch("limit", "contact", None, lambda _ms, state: told.append(state)) == "closed"
    plant.switch("limit", "open")
    plant.advance(1)
    plant.switch("limit", "closed")
    plant.advance(2)
    assert told == ["open", "closed"]


def test_a_threshold_decides_what_counts_as_on() -> None:
    plant = build(plan("split-gas-cool"))
    low: list[str] = []
    high: list[str] = []
    plant.watch("compressor", "amps", 1.0, lambda _ms, state: low.append(state))
    plant.watch("compressor", "amps", 30.0, lambda _ms, state: high.append(state))
    plant.call(frozenset({"Y1"}))
    plant.advance(MIN)
    assert low == ["on"]
    assert high == ["on", "off"]  # locked-rotor amps at the start only


def test_the_moves_of_calls_power_and_switches_are_told() -> None:
    plant = build(plan("split-gas-cool"))
    told: list[tuple[object, ...]] = []
    plant.watch_calls(lambda *what: told.append(what))
    plant.watch_power(lambda *what: told.append(what))
    plant.watch_switches(lambda *what: told.append(what))
    plant.call(frozenset({"G"}))
    plant.advance(S)
    plant.power(False)
    plant.switch("limit", "open")
    plant.call(frozenset())
    plant.advance(2 * S)
    assert told == [(8, "G", "on"), (S, "off"), (S, "limit", "open"), (S + 4, "G", "off")]


def test_a_call_taken_back_before_its_contact_has_moved_never_shows() -> None:
    plant = build(plan("split-gas-cool"))
    told: list[tuple[object, ...]] = []
    plant.watch_calls(lambda *what: told.append(what))
    plant.call(frozenset({"G"}))
    plant.advance(2)
    plant.call(frozenset())
    plant.advance(S)
    assert told == []


@pytest.mark.parametrize("system_name", SYSTEMS)
def test_every_point_of_a_system_is_in_the_vocabulary_and_can_be_watched_or_read(system_name: str) -> None:
    plant = build(plan(system_name))
    for name, means in plant.points().items():
        known = point(name)
        assert known is not None
        for sensed in means:
            if known.states:
                assert plant.watch(name, sensed, None, lambda _ms, _state: None) in known.states
            else:
                assert plant.read(name) == plant.read(name)


def test_the_points_that_the_shipped_sequences_ask_for_are_there() -> None:
    points = build(plan("split-gas-cool")).points()
    assert {"coil_volts", "contact"} <= set(points["contactor"])
    assert {"amps", "load_volts"} <= set(points["compressor"])
    for name in ("outdoor_fan", "blower", "inducer", "ignitor"):
        assert "amps" in points[name]
    for name in ("pressure_switch", "limit", "rollout", "high_pressure", "low_pressure"):
        assert "contact" in points[name]
    for name in ("wire_R", "wire_Y1", "wire_G", "wire_W1", "control_voltage"):
        assert "call_volts" in points[name]
    for name in ("supply_air", "return_air", "outdoor_air", "room_air", "air_split"):
        assert "air_temp" in points[name]
    assert "coil_volts" in points["gas_valve"]
    assert "flame_current" in points["flame"]
    assert "flame_current" in points["flame_current"]


def test_what_is_asked_wrongly_is_a_clear_complaint() -> None:
    plant = build(plan("split-gas-cool"))

    def nothing(_ms: int, _state: str) -> None: ...

    for ask, message in (
        (lambda: plant.watch("compresor", "amps", None, nothing), "has no 'compresor'; did you mean 'compressor'?"),
        (lambda: plant.watch("compressor", "pressure", None, nothing), "compressor cannot be watched by pressure"),
        (lambda: plant.watch("supply_air", "air_temp", None, nothing), "supply_air cannot be watched by air_temp"),
        (lambda: plant.call(frozenset({"Y2"})), "the control has no terminal Y2; it has G, W1, Y1"),
        (lambda: plant.switch("limits", "open"), "has no 'limits'; did you mean 'limit'?"),
        (lambda: plant.surroundings({"outdor_air": 1.0}), "has no 'outdor_air'; did you mean 'outdoor_air'?"),
        (lambda: plant.clear("everything"), "can be reset by the name 'everything'"),
        (lambda: plant.read("blower_speed"), "nothing to read called 'blower_speed'"),
    ):
        with pytest.raises(UsageError) as raised:
            ask()
        assert message in str(raised.value)


@pytest.mark.parametrize("name", SYSTEMS)
def test_no_process_waits_busily(name: str) -> None:
    """A wax valve's heater makes and breaks every few seconds for as long as it is called; nothing else is as busy."""
    hours = events_an_hour(name)
    standing = 450 if name == "boiler-two-zones" else 100
    assert 0 < hours.rest < 2
    assert hours.y_calls < standing
    assert hours.w_calls < standing
    assert hours.rest < hours.cycling < 450


def test_a_day_of_a_standing_call_costs_no_more_than_a_few_events_an_hour() -> None:
    traced = Traced()
    count = steps_of(traced)
    traced.call("Y1", "G", run=24 * H)
    assert count[0] < 24 * 10


def test_lockouts_and_stuck_machines_do_not_wait_busily_either() -> None:
    for given in (
        {"furnace.gas_valve.gas": "off"},
        {"furnace.gas_valve.seat": "stuck_open"},
        {"furnace.limit.contact": "stuck_open"},
        {"furnace.pressure_switch.contact": "stuck_closed"},
        {"furnace.blower.motor": "dead"},
    ):
        traced = Traced(settings=given)
        count = steps_of(traced)
        traced.call("W1", run=6 * H)
        assert count[0] < 6 * 300, given


def test_the_model_never_reads_the_machine_between_events() -> None:
    """Reading a quantity moves nothing: a run that is read often is the same run."""
    quiet = Traced().call("W1", run=5 * MIN).call(run=5 * MIN)
    curious = Traced()
    curious.plant.call(frozenset({"W1"}))
    for second in range(600):
        if second == 300:
            curious.plant.call(frozenset())
        curious.wait(S)
        curious.plant.read("supply_air")
    assert [entry for entry in curious.trace if entry[1] != LIMIT] == [e for e in quiet.trace if e[1] != LIMIT]
    assert curious.plant.read("supply_air") == pytest.approx(quiet.plant.read("supply_air"))
    assert curious.state[COMPRESSOR] == "off"
