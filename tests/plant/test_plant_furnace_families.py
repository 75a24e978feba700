"""What differs between families of furnace boards, one behaviour after the other; and what surprises in all of them."""

from __future__ import annotations

from typing import Any

import pytest
from traced import BLOWER, DRAFT, FLAME, IGNITOR, INDUCER, LIMIT, MIN, VALVE, H, S, Traced, fault

LEARNING, QUICK = "heat-only-learning-furnace", "shop-three-phase"
ROLLOUT = "rollout by contact"


def furnace(name: str, **board: str) -> Traced:
    return Traced(name, settings={f"furnace.board.{key}": value for key, value in board.items()})


def opened(run: Traced, switch: str, ms: int) -> Traced:
    """The switch open for so long, then restored."""
    run.plant.switch(switch, "open")
    run.wait(ms)
    run.plant.switch(switch, "closed")
    return run


def warm_ups(run: Traced) -> list[int]:
    """From ignitor to valve, whole seconds, of each trial."""
    return [
        round((valve - ignitor) / S)
        for ignitor, valve in zip(run.times(IGNITOR, "on"), run.times(VALVE, "on"), strict=False)
    ]


@pytest.mark.parametrize(
    ("heat_up", "settles"),
    [("3 s", [12, 9, 6, 6, 6]), ("11.5 s", [12, 9, 12, 9, 12])],
)
def test_a_learning_board_lights_sooner_from_call_to_call_until_a_trial_fails(heat_up: str, settles: list[int]) -> None:
    """An ignitor still too cold at the valve makes the next warm-up of the same call longer again."""
    run = Traced(LEARNING, settings={"furnace.ignitor.heat_up": heat_up})
    for _ in range(11):
        run.call("W1", run=4 * MIN).call(run=3 * MIN)

    assert warm_ups(run)[:6] == [30, 27, 24, 21, 18, 15]
    assert warm_ups(run)[6:11] == settles


def test_a_learning_board_warms_longer_after_every_failure() -> None:
    run = furnace(LEARNING)
    run.plant.switch("flame_rod", "open")
    run.call("W1", run=20 * MIN)

    assert warm_ups(run) == [30, 33, 36, 39, 42]


def test_a_fast_ignitor_is_warmed_twice_as_long_on_a_retry() -> None:
    run = furnace(QUICK)
    run.plant.switch("flame_rod", "open")
    run.call("W1", run=8 * MIN)

    assert warm_ups(run)[:4] == [5, 10, 10, 10]


def test_the_flame_rods_lead_pulled_off_ends_in_a_lockout_though_the_burner_burns() -> None:
    run = furnace(LEARNING)
    run.plant.switch("flame_rod", "open")
    run.call("W1", run=30 * MIN)

    burnt = run.plant._parts["furnace.exchanger"]._store.excess  # type: ignore[attr-defined]
    assert burnt > 0
    assert not run.times(FLAME, "on")
    assert len(run.times(VALVE, "on")) == 5
    assert run.state[INDUCER] == "off"


@pytest.mark.parametrize(("name", "after"), [(QUICK, 5 * MIN), (LEARNING, H)])
def test_an_ignition_lockout_ends_by_itself_after_its_time(name: str, after: int) -> None:
    run = furnace(name)
    run.plant.switch("flame_rod", "open")
    run.call("W1", run=20 * MIN if after == H else 6 * MIN)
    run.plant.switch("flame_rod", "closed")
    locked = run.at(INDUCER, "off")
    run.wait(70 * MIN)

    assert run.at(INDUCER, "on", after=locked) - locked == pytest.approx(after, abs=S)
    assert run.state[FLAME] == "on"


def test_lost_draft_counts_as_a_recycle_in_one_family_only() -> None:
    runs = [furnace(QUICK, draft_loss_counts=counts).call("W1", run=2 * MIN) for counts in ("recycle", "nothing")]
    for run in runs:
        for _ in range(6):
            opened(run, "pressure_switch", 2 * S).wait(MIN)

    assert [run.state[FLAME] for run in runs] == ["off", "on"]


def test_a_pressure_switch_closed_too_early_is_waited_for_shaken_or_ignored() -> None:
    stuck = (fault("pressure-switch-stuck-closed"),)
    found = {}
    for habit in ("waits", "pulses", "ignored"):
        run = Traced(QUICK, faults=stuck, settings={"furnace.board.draft_closed_early": habit}).call("W1", run=10 * MIN)
        found[habit] = len(run.times(INDUCER, "on")), bool(run.times(FLAME, "on"))

    assert found == {"waits": (0, False), "pulses": (4, False), "ignored": (1, True)}


def test_a_pressure_switch_shaken_open_lets_the_burner_start() -> None:
    run = furnace(QUICK, draft_closed_early="pulses")
    assert run.call("W1", run=2 * MIN).state[FLAME] == "on"


def test_the_fifth_limit_trip_of_a_call_locks_out_where_trips_are_counted() -> None:
    run = furnace(LEARNING, limit_trips_allowed="4").call("W1", run=3 * MIN)
    for _ in range(5):
        opened(run, "limit", 5 * S).wait(3 * MIN)

    assert run.state[VALVE] == "off"
    assert run.state[INDUCER] == "off"


@pytest.mark.parametrize(("watched", "runs"), [("always", "on"), ("in_call", "off")])
def test_an_open_limit_without_a_call_runs_the_blower_where_it_is_watched_always(watched: str, runs: str) -> None:
    run = furnace(QUICK, limit_watched=watched)
    run.plant.switch("limit", "open")
    run.wait(MIN)

    assert run.state[BLOWER] == run.state[INDUCER] == runs


@pytest.mark.parametrize(("blows", "later"), [("0 s", 0), ("90 s", 90 * S)])
def test_after_an_interruption_one_family_blows_first(blows: str, later: int) -> None:
    run = furnace("split-gas-cool", power_restore_blower=blows).call("W1", run=5 * MIN)
    run.plant.power(on=False)
    run.wait(5 * S)
    run.plant.power(on=True)
    back = run.plant.now
    run.wait(5 * MIN)

    started = run.at(INDUCER, "on", after=back) - back
    assert started == pytest.approx(2 * S + later, abs=500)
    assert (run.at(BLOWER, "on", after=back) - back < 5 * S) == bool(later)


def test_a_power_up_without_a_call_blows_nothing() -> None:
    run = furnace("split-gas-cool", power_restore_blower="90 s")
    run.plant.power(on=False)
    run.wait(5 * S)
    run.plant.power(on=True)
    run.wait(3 * MIN)

    assert not run.times(BLOWER, "on")


def test_an_open_roll_out_looks_like_an_open_limit_until_the_board_gives_up() -> None:
    traces = []
    for switch in ("limit", "rollout"):
        run = furnace("split-gas-cool").call("W1", run=5 * MIN)
        begun = len(run.trace)
        opened(run, switch, 3 * MIN).wait(5 * MIN)
        traces.append([row for row in run.trace[begun:] if row[1] not in (LIMIT, ROLLOUT, DRAFT)])

    assert traces[0] == traces[1]
    assert traces[0]


def test_g_dropped_during_ignition_comes_back_by_itself() -> None:
    run = furnace("split-gas-cool", fan_during_ignition="drops").call("G", run=MIN).call("G", "W1", run=5 * MIN)

    off, on = run.at(BLOWER, "off"), run.at(BLOWER, "on", after=2 * MIN - 50 * S)
    assert off == pytest.approx(run.at(IGNITOR, "on"), abs=20)
    assert off < run.at(VALVE, "on") < on


@pytest.mark.parametrize(("beside", "seconds"), [(("Y1", "G"), 25), ((), 120)])
def test_a_board_may_know_the_end_of_a_defrost_by_y_and_end_its_heat_speed_sooner(
    beside: tuple[str, ...], seconds: int
) -> None:
    run = furnace("split-gas-cool", defrost_blower_off_delay="25 s").call("W1", *beside, run=8 * MIN)
    board: Any = run.plant._parts["furnace.board"]
    run.call(*beside, run=(seconds - 2) * S)
    assert board.heat.stands(run.plant.now)
    run.wait(4 * S)
    assert not board.heat.stands(run.plant.now)
