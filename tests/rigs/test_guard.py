"""The guard waits or refuses; nothing reaches the rig past it."""

from __future__ import annotations

import pytest

from rigs.hand_rig import HandRig
from stagecall.errors import CallRefusedError
from stagecall.model.event import Power
from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Circumstances, Go, Guarded, Premises, Refuse, Wait

MINUTE = 60_000
Y, YG, W, G, NONE = (frozenset(calls) for calls in ({"Y1"}, {"Y1", "G"}, {"W1"}, {"G"}, set[str]()))


def guarded(rig: HandRig | None = None, **premises: object) -> Guarded:
    return Guarded(rig or HandRig({"contactor": "off"}), Premises(**premises))  # type: ignore[arg-type]


def wait_until(guard: Guarded, t: int) -> None:
    while guard.poll(t).settled < t:
        pass


def until(clearance: object) -> int:
    assert isinstance(clearance, Wait), clearance
    return clearance.until


def test_with_unknown_history_the_compressor_stopped_just_now() -> None:
    assert until(guarded().clearance(Move(calls=Y))) == 5 * MINUTE


def test_a_longer_figure_of_the_maker_stands_and_a_shorter_one_does_not() -> None:
    assert until(guarded(minimum_off=7 * MINUTE).clearance(Move(calls=Y))) == 7 * MINUTE
    assert until(guarded(minimum_off=3 * MINUTE).clearance(Move(calls=Y))) == 5 * MINUTE


def test_after_the_rest_the_call_goes_through() -> None:
    guard = guarded()
    wait_until(guard, 5 * MINUTE)

    assert guard.clearance(Move(calls=Y)) == Go()


def test_a_blower_call_needs_no_rest() -> None:
    assert guarded().clearance(Move(calls=G)) == Go()


def test_a_move_past_the_guard_is_refused_and_reaches_nothing() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)

    with pytest.raises(CallRefusedError, match="minimum off"):
        guard.move(Move(calls=Y))

    assert rig.moves == []


def test_a_running_compressor_keeps_its_call_for_three_minutes() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y))
    rig.edge(5 * MINUTE + 20, "contactor", "on")
    wait_until(guard, 6 * MINUTE)

    assert until(guard.clearance(Move(calls=NONE))) == 8 * MINUTE + 20


def test_a_call_that_the_board_still_holds_out_may_be_dropped_at_once() -> None:
    guard = guarded()
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y))
    wait_until(guard, 6 * MINUTE)

    assert guard.clearance(Move(calls=NONE)) == Go()


def test_where_nothing_sees_the_compressor_the_call_counts_as_its_start() -> None:
    guard = guarded(HandRig({"blower": "off"}))
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y))
    wait_until(guard, 6 * MINUTE)

    assert until(guard.clearance(Move(calls=NONE))) == 8 * MINUTE + 5


def test_the_rest_counts_from_the_last_that_was_seen_running() -> None:
    rig = HandRig({"contactor": "on"})
    guard = guarded(rig)
    guard.snapshot()
    rig.edge(2 * MINUTE, "contactor", "off")
    wait_until(guard, 5 * MINUTE)

    assert until(guard.clearance(Move(calls=Y))) == 7 * MINUTE


def test_a_loss_of_power_counts_as_a_stop() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)
    wait_until(guard, 10 * MINUTE)
    rig.happen(Power(t=10 * MINUTE + 1, state="off"), Power(t=11 * MINUTE, state="on"))
    wait_until(guard, 12 * MINUTE)

    assert until(guard.clearance(Move(calls=Y))) == 15 * MINUTE + 1


def test_power_returning_on_a_standing_call_waits_like_a_call() -> None:
    guard = guarded()
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y))
    wait_until(guard, 6 * MINUTE)
    guard.move(Move(power="off"))
    wait_until(guard, 7 * MINUTE)

    assert until(guard.clearance(Move(power="on"))) == 11 * MINUTE + 5
    assert guard.clearance(Move(power="on"), "minimum_off") == Go()


def test_a_first_stage_dropped_beside_the_second_is_a_stop_and_rests() -> None:
    guard = guarded(HandRig({"blower": "off"}))
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y | {"Y2"}))
    wait_until(guard, 9 * MINUTE)
    guard.move(Move(calls=frozenset({"Y2", "G"})))
    wait_until(guard, 10 * MINUTE)

    assert until(guard.clearance(Move(calls=Y | {"Y2"}))) == 14 * MINUTE + 5


def test_a_second_stage_comes_and_goes_beside_the_first_as_it_likes() -> None:
    guard = guarded(HandRig({"blower": "off"}))
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=Y))
    wait_until(guard, 5 * MINUTE + 1000)
    guard.move(Move(calls=Y | {"Y2"}))
    wait_until(guard, 5 * MINUTE + 2000)
    guard.move(Move(calls=Y))
    wait_until(guard, 5 * MINUTE + 3000)

    assert guard.clearance(Move(calls=Y | {"Y2"})) == Go()


@pytest.mark.parametrize(("calls", "then"), [({"Y1"}, {"Y2"}), ({"Y2"}, {"Y1"})])
def test_one_compressor_call_never_takes_over_from_another(calls: set[str], then: set[str]) -> None:
    guard = guarded()
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=frozenset(calls)))
    wait_until(guard, 30 * MINUTE)

    assert isinstance(guard.clearance(Move(calls=frozenset(then))), Refuse)
    guard.move(Move(calls=frozenset()))
    wait_until(guard, 36 * MINUTE)
    assert guard.clearance(Move(calls=frozenset(then))) == Go()


def test_calls_that_nothing_answers_count_as_starts_and_answered_ones_count_once() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)
    for number in range(4):
        wait_until(guard, (5 + 10 * number) * MINUTE)
        guard.move(Move(calls=Y))
        if number % 2:
            rig.edge(rig.now + 500, "contactor", "on")
            rig.edge(rig.now + 4 * MINUTE, "contactor", "off")
            rig.edge(rig.now + 4 * MINUTE + 30_000, "contactor", "on")  # by itself, under the same call
            rig.edge(rig.now + 4 * MINUTE + 40_000, "contactor", "off")
        wait_until(guard, rig.now + 4 * MINUTE - 10_000)
        guard.move(Move(calls=frozenset()))
    wait_until(guard, 45 * MINUTE)

    assert len(guard.compressor.starts) == 6


def test_a_loss_of_r_that_is_seen_counts_as_a_stop() -> None:
    rig = HandRig({"wire_R": "on"})
    guard = guarded(rig)
    rig.edge(4 * MINUTE, "wire_R", "off")
    wait_until(guard, 5 * MINUTE)

    assert until(guard.clearance(Move(calls=Y))) == 9 * MINUTE


def test_a_rig_may_have_a_rest_of_its_own() -> None:
    class Slow(HandRig):
        def not_before(self, move: Move) -> tuple[int, str]:
            return (2 * MINUTE, "it has to think") if move.calls else (0, "")

    guard = guarded(Slow({"contactor": "off"}))

    assert guard.clearance(Move(calls=G)) == Wait(2 * MINUTE, "it has to think")
    assert guard.clearance(Move(power="off")) == Go()


def test_the_seventh_start_in_an_hour_waits_even_as_a_challenge() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)
    for start in range(6):
        rig.edge(start * 6 * MINUTE + 1000, "contactor", "on")
        rig.edge(start * 6 * MINUTE + 4 * MINUTE, "contactor", "off")
    wait_until(guard, 40 * MINUTE)

    assert until(guard.clearance(Move(calls=Y))) == 60 * MINUTE + 3000
    assert until(guard.clearance(Move(calls=Y), "minimum_off")) == 60 * MINUTE + 3000


def test_a_challenge_goes_through_where_it_is_allowed_and_is_refused_on_live_equipment() -> None:
    assert guarded().clearance(Move(calls=Y), "minimum_off") == Go()
    assert isinstance(guarded(here=Circumstances(ground="live")).clearance(Move(calls=Y), "minimum_off"), Refuse)


def test_heat_beside_cooling_is_refused_unless_the_system_is_made_for_it() -> None:
    both = Move(calls=frozenset({"Y1", "W1"}))

    refused = guarded().clearance(both)

    assert refused == Refuse("W1 and Y1 together: heat never runs against cooling on this system")
    assert until(guarded(heat_beside_compressor=True, valve="O").clearance(both)) == 5 * MINUTE


def test_both_calls_of_a_reversing_valve_together_are_refused() -> None:
    guard = guarded()

    assert isinstance(guard.clearance(Move(calls=frozenset({"O", "B"}))), Refuse)
    assert guard.clearance(Move(calls=frozenset({"O"}))) == Go()
    assert guard.clearance(Move(calls=frozenset({"B"}))) == Go()


def test_only_a_switch_opened_in_this_run_is_ever_restored() -> None:
    guard = guarded()

    assert isinstance(guard.clearance(Move(restore="limit")), Refuse)
    guard.move(Move(open_switch="limit"))
    assert guard.clearance(Move(restore="limit")) == Go()


def test_all_off_drops_heat_first_then_the_rest() -> None:
    guard = guarded()
    guard.move(Move(calls=frozenset({"W1", "G"})))

    assert guard.all_off() == [(Move(calls=G), 0), (Move(calls=NONE), 0)]


def test_hot_elements_keep_the_blower_for_their_off_delay() -> None:
    guard = guarded(hot_elements=True)
    guard.move(Move(calls=W))

    assert guard.all_off() == [(Move(calls=G), 120_000), (Move(calls=NONE), 0)]


def test_making_safe_ignores_the_minimum_on_and_calls_for_nothing_new() -> None:
    rig = HandRig({"contactor": "off"})
    guard = guarded(rig)
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=YG))
    rig.edge(5 * MINUTE + 20, "contactor", "on")
    wait_until(guard, 6 * MINUTE)

    for move, _ in guard.all_off():
        guard.make_safe(move)

    assert rig.calls == NONE
    with pytest.raises(CallRefusedError):
        guard.make_safe(Move(calls=W))


HEAT, COOL, O_ONLY = frozenset({"Y1", "G"}), frozenset({"Y1", "G", "O"}), frozenset({"O"})
PUMP = {"heat_beside_compressor": True, "valve": "O", "hot_elements": True}


def running_heat_pump(calls: frozenset[str], **premises: object) -> tuple[Guarded, HandRig]:
    rig = HandRig({"compressor": "off"})
    guard = guarded(rig, **{**PUMP, **premises})
    wait_until(guard, 5 * MINUTE)
    guard.move(Move(calls=calls))
    rig.edge(5 * MINUTE + 20, "compressor", "on")
    wait_until(guard, 9 * MINUTE)
    return guard, rig


@pytest.mark.parametrize(
    ("calls", "then"),
    [
        (HEAT, COOL),
        (COOL, HEAT),
        (COOL, NONE),
        (COOL, G),
        (frozenset({"Y1", "B"}), frozenset({"Y1"})),
        (frozenset({"Y1", "B"}), frozenset({"G"})),
    ],
)
def test_the_valves_call_never_changes_with_the_compressor_called(calls: frozenset[str], then: frozenset[str]) -> None:
    guard, _ = running_heat_pump(calls)

    refused = guard.clearance(Move(calls=then))

    assert refused == Refuse("the valve's call never changes with the compressor called: end that call first")


def test_the_valves_call_never_changes_while_a_compressor_is_seen_running_without_its_call() -> None:
    guard, rig = running_heat_pump(HEAT)
    guard.move(Move(calls=G))
    wait_until(guard, 10 * MINUTE)

    assert guard.clearance(Move(calls=frozenset({"G", "O"}))) == Refuse(
        "the valve's call never changes while the compressor runs"
    )
    rig.edge(10 * MINUTE + 1, "compressor", "off")
    wait_until(guard, 11 * MINUTE)
    assert guard.clearance(Move(calls=frozenset({"G", "O"}))) == Go()


def test_everything_off_is_let_through_even_while_a_welded_contactor_keeps_the_compressor_running() -> None:
    guard, _ = running_heat_pump(COOL)
    guard.move(Move(calls=O_ONLY))
    wait_until(guard, 10 * MINUTE)

    assert guard.clearance(Move(calls=NONE)) == Go()


def test_the_valve_reverses_by_way_of_a_rest() -> None:
    guard, rig = running_heat_pump(HEAT)
    guard.move(Move(calls=NONE))
    rig.edge(9 * MINUTE + 500, "compressor", "off")
    wait_until(guard, 10 * MINUTE)
    guard.move(Move(calls=O_ONLY))

    assert until(guard.clearance(Move(calls=COOL))) == 14 * MINUTE + 500
    assert until(guard.clearance(Move(calls=COOL), "minimum_off")) == 14 * MINUTE + 500
    wait_until(guard, 15 * MINUTE)
    assert guard.clearance(Move(calls=COOL)) == Go()


def test_an_early_restart_is_let_through_where_the_valve_stands_as_before() -> None:
    guard, rig = running_heat_pump(COOL)
    guard.move(Move(calls=O_ONLY))
    rig.edge(9 * MINUTE + 500, "compressor", "off")
    wait_until(guard, 10 * MINUTE)

    assert guard.clearance(Move(calls=COOL), "minimum_off") == Go()


@pytest.mark.parametrize(
    ("valve", "calls"),
    [
        ("O", {"Y1", "G", "O", "W1"}),
        ("O", {"G", "O", "W2"}),
        ("B", {"Y1", "G", "W1"}),
        ("unknown", {"Y1", "G", "W1"}),
        ("unknown", {"Y1", "B", "W1"}),
    ],
)
def test_aux_with_the_valve_in_cool_or_unknown_is_refused_unless_it_is_declared_reheat(
    valve: str, calls: set[str]
) -> None:
    move = Move(calls=frozenset(calls))

    assert isinstance(guarded(heat_beside_compressor=True, valve=valve).clearance(move), Refuse)
    assert not isinstance(guarded(heat_beside_compressor=True, valve=valve, reheat=True).clearance(move), Refuse)


@pytest.mark.parametrize(
    ("valve", "calls"),
    [("O", {"Y1", "G", "W1"}), ("B", {"Y1", "G", "B", "W1"}), ("B", {"G", "E"}), ("O", {"W1", "W2"})],
)
def test_strips_with_a_heat_pump_in_heating_or_by_themselves_are_right(valve: str, calls: set[str]) -> None:
    clearance = guarded(heat_beside_compressor=True, valve=valve).clearance(Move(calls=frozenset(calls)))

    assert isinstance(clearance, Wait if "Y1" in calls else Go)


def test_emergency_heat_beside_the_compressor_is_refused() -> None:
    clearance = guarded(**PUMP).clearance(Move(calls=frozenset({"Y1", "G", "E"})))

    assert clearance == Refuse("E with a compressor call: emergency heat runs without the compressor")


def test_a_defrost_is_forced_only_while_the_heat_pump_is_called_to_heat() -> None:
    press = Move(press="defrost_test")

    assert isinstance(guarded(**PUMP).clearance(press), Refuse)
    assert isinstance(running_heat_pump(COOL)[0].clearance(press), Refuse)
    assert running_heat_pump(HEAT)[0].clearance(press) == Go()


def test_all_off_keeps_the_valves_call_until_the_compressor_has_let_go() -> None:
    cooling, _ = running_heat_pump(COOL)
    heating, _ = running_heat_pump(frozenset({"Y1", "G", "B", "W1"}), valve="B")

    assert cooling.all_off() == [(Move(calls=O_ONLY), 3_000), (Move(calls=NONE), 0)]
    assert heating.all_off() == [(Move(calls=frozenset({"G", "B"})), 120_000), (Move(calls=NONE), 0)]
