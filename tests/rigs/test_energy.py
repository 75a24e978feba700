"""Every cell of the safety table: what may be done at which energy."""

from __future__ import annotations

from typing import get_args

import pytest

from rigs.hand_rig import HandRig
from stagecall.errors import CallRefusedError
from stagecall.model.system import Energy
from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Act, Circumstances, DryRun, Go, Ground, Guarded, Premises, Refuse, stands_against

DRY = DryRun(run="d", early_restart=False)
RESTARTED = DryRun(run="d", early_restart=True)
W = frozenset({"W1"})

CELLS: list[tuple[Act, Ground, dict[str, object], str]] = [
    ("relay_calls", "model", {"attended": False}, ""),
    ("relay_calls", "mockup", {"attended": False}, ""),
    ("relay_calls", "dry", {}, ""),
    ("relay_calls", "live", {}, "only after a clean dry run"),
    ("relay_calls", "live", {"dry_run": DRY}, ""),
    ("relay_calls", "live", {"dry_run": DRY, "attended": False}, "nothing is called unattended"),
    ("relay_calls", "live", {"hands": True}, ""),
    ("opening_relay", "model", {}, ""),
    ("opening_relay", "mockup", {}, ""),
    ("opening_relay", "dry", {}, "opened by hand"),
    ("opening_relay", "live", {"dry_run": DRY}, "opened by hand"),
    ("early_restart", "model", {}, ""),
    ("early_restart", "mockup", {}, ""),
    ("early_restart", "dry", {}, ""),
    ("early_restart", "live", {"dry_run": DRY}, "only after it passed dry"),
    ("early_restart", "live", {"hands": True}, "only after it passed dry"),
    ("early_restart", "live", {"dry_run": RESTARTED}, ""),
    ("lockout_trials", "model", {}, ""),
    ("lockout_trials", "mockup", {}, ""),
    ("lockout_trials", "dry", {}, ""),
    ("lockout_trials", "live", {"dry_run": RESTARTED}, "not made on live equipment"),
    ("power_cut", "model", {"cuts": 3, "burner_called": True, "fuel": True}, ""),
    ("power_cut", "mockup", {"cuts": 3}, ""),
    ("power_cut", "dry", {"cuts": 3}, ""),
    ("power_cut", "live", {}, ""),
    ("power_cut", "live", {"cuts": 1}, "cut once in a run"),
    ("power_cut", "live", {"burner_called": True, "fuel": True}, "never cut in a burner run"),
    ("power_cut", "live", {"burner_called": True}, ""),
    ("sag", "model", {}, ""),
    ("sag", "mockup", {}, ""),
    ("sag", "dry", {}, "only measured"),
    ("sag", "live", {}, "only measured"),
    ("unattended", "model", {}, ""),
    ("unattended", "mockup", {}, ""),
    ("unattended", "dry", {}, "unattended"),
    ("unattended", "live", {}, "unattended"),
]


@pytest.mark.parametrize(("act", "ground", "more", "said"), CELLS)
def test_each_cell_of_the_safety_table(act: Act, ground: Ground, more: dict[str, object], said: str) -> None:
    because = stands_against(act, Circumstances(ground=ground, **more))  # type: ignore[arg-type]

    assert said in because
    assert bool(because) == bool(said)


def test_no_cell_is_left_out() -> None:
    assert {(act, ground) for act, ground, *_ in CELLS} == {
        (act, ground) for act in get_args(Act) for ground in get_args(Ground)
    }


@pytest.mark.parametrize(
    ("fuel", "compressor", "elements", "state"),
    [
        ("none", "none", "none", "mockup"),
        ("shut_off", "none", "none", "dry"),
        ("none", "isolated", "none", "dry"),
        ("shut_off", "isolated", "isolated", "dry"),
        ("live", "none", "none", "live"),
        ("shut_off", "isolated", "live", "live"),
        ("none", "none", "unknown", "live"),
        ("unknown", "isolated", "none", "live"),
    ],
)
def test_what_is_unknown_counts_as_live(fuel: str, compressor: str, elements: str, state: str) -> None:
    assert Energy(fuel=fuel, compressor=compressor, elements=elements).state == state  # type: ignore[arg-type]


MOVES: list[tuple[Move, bool]] = [
    (Move(calls=frozenset({"G"})), True),
    (Move(open_switch="limit"), True),
    (Move(power="off"), False),
    (Move(surroundings={"line_voltage": 80.0}), True),
    (Move(surroundings={"outdoor_air": 20.0}), False),
]


@pytest.mark.parametrize(("move", "refused"), MOVES)
def test_the_guard_holds_every_move_against_the_table(move: Move, refused: bool) -> None:
    live = Guarded(HandRig(), Premises(here=Circumstances(ground="live")))
    model = Guarded(HandRig(), Premises())

    assert isinstance(live.clearance(move), Refuse) == refused
    assert model.clearance(move) == Go()


def test_a_second_power_cut_and_one_in_a_burner_run_reach_no_live_equipment() -> None:
    rig = HandRig()
    guard = Guarded(rig, Premises(here=Circumstances(ground="live", dry_run=DRY, fuel=True)))
    guard.move(Move(calls=W))
    with pytest.raises(CallRefusedError, match="burner run"):
        guard.move(Move(power="off"))
    guard.move(Move(calls=frozenset()))
    guard.move(Move(power="off"))
    guard.move(Move(power="on"))
    with pytest.raises(CallRefusedError, match="once"):
        guard.move(Move(power="off"))

    assert [move.power for _, move in rig.moves if move.power] == ["off", "on"]


def test_where_heat_was_dropped_for_safety_no_heat_is_called_and_all_else_is() -> None:
    guard = Guarded(HandRig(), Premises())
    guard.heat_held = True

    assert isinstance(guard.clearance(Move(calls=W)), Refuse)
    assert guard.clearance(Move(calls=frozenset({"G"}))) == Go()
    guard.heat_held = False
    assert guard.clearance(Move(calls=W)) == Go()
