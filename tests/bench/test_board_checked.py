"""Whatever a board is asked, by whatever command: an independent checker on its line has nothing to complain of."""

from __future__ import annotations

from random import Random
from unittest.mock import patch

import pytest
from board_rigs import Mockup, mockup, spec
from native_core import Core
from watched_link import REST_US, WatchedLink

from stagecall.errors import CallRefusedError, RigLostError
from stagecall.model.kit import Board
from stagecall.rigs import board_rig
from stagecall.rigs.contract import Move
from stagecall.rigs.frames import seal
from stagecall.rigs.guard import Guarded, Refuse, Wait
from stagecall.rigs.registry import premises

BENCHES = [("trainer-mockup", "bench-16"), ("heat-pump-strips-o", "bench-16-heat-pump")]
SELDOM_US = 400_000


def walk(made: Mockup, guarded: Guarded, draw: Random, *, steps: int) -> int:
    """Ask for what comes to mind, at once or when the guard lets it, and let some time pass; gives what was refused."""
    board = made.rig._channels.board
    refused = 0
    for _ in range(steps):
        calls = frozenset(draw.sample(sorted(board.calls), draw.randint(0, 3)))
        switch = draw.choice(sorted(board.opens))
        move = draw.choice([
            Move(calls=calls), Move(calls=calls), Move(calls=frozenset({"Y1", "G"})), Move(calls=frozenset()),
            Move(power="off"), Move(power="on"), Move(open_switch=switch), Move(restore=switch),
        ])  # fmt: skip
        match guarded.clearance(move):
            case Wait(until=until) if draw.random() < 0.7:
                pass_until(guarded, until)
            case Refuse():
                refused += 1
        try:
            if draw.random() < 0.1:
                for safe, _ in guarded.all_off():
                    guarded.make_safe(safe)
            guarded.move(move)
        except CallRefusedError:
            refused += 1
        pass_until(guarded, guarded.now + draw.choice([0, 0, 1_000, 10_000, 200_000]))
    return refused


def pass_until(guarded: Guarded, until: int) -> None:
    while guarded.now < until:
        guarded.poll(until)


def seen_to_run(made: Mockup) -> None:
    """The contactor's input follows the relay of Y1, so that starts are counted from what is seen."""
    board = made.rig._channels.board
    made.core.wire(board.calls["Y1"], board.inputs["contactor"])


def walked(core: Core, system: str, kit: str, seed: int, *, steps: int) -> None:
    wanted = spec(system, kit)
    made = mockup(core, wanted)
    if seed % 2:
        seen_to_run(made)
    with patch.object(board_rig, "HEARTBEAT_US", SELDOM_US):
        guarded = Guarded(made.rig, premises(wanted, on_model=False))
        guarded.snapshot()
        refused = walk(made, guarded, Random(seed), steps=steps)
        guarded.close()

    assert made.watch.complaints == []
    assert made.watch.moves > steps // 4
    assert refused > steps // 20
    assert core.closed() == set()


@pytest.mark.parametrize("bench", BENCHES)
def test_a_host_that_asks_for_anything_at_any_time_breaks_no_rule(core: Core, bench: tuple[str, str]) -> None:
    walked(core, *bench, 1, steps=25)


@pytest.mark.thorough
@pytest.mark.parametrize("seed", range(2, 5))
@pytest.mark.parametrize("bench", BENCHES)
def test_a_host_that_asks_for_anything_for_hours_breaks_no_rule(core: Core, bench: tuple[str, str], seed: int) -> None:
    walked(core, *bench, seed, steps=150)


def test_the_board_itself_refuses_what_a_guard_without_sense_lets_through(core: Core) -> None:
    made = mockup(core)
    made.rig.snapshot()
    with pytest.raises(RigLostError, match="minimum open"):
        made.rig._move(Move(calls=frozenset({"Y1"})))
    made.rig._move(Move(calls=frozenset()))
    made.rig._move(Move(calls=frozenset({"W1"})))
    with patch.object(board_rig, "HEARTBEAT_US", SELDOM_US):
        while made.rig.now < 298_000:
            made.rig.poll(298_000)
    with pytest.raises(RigLostError, match="exclusive"):
        made.rig._move(Move(calls=frozenset({"W1", "Y1"})))
    made.rig.close()

    assert made.watch.complaints == []
    assert core.closed() == set()


class Script:
    """A line on which a board says OK to everything."""

    name = "a line"

    def __init__(self) -> None:
        self.us = 0
        self._answers = b""

    def now_us(self) -> int:
        return self.us

    def send(self, data: bytes) -> None:
        self._answers += seal("<", int(data[1:3], 16), "OK 1")

    def receive(self, wait_us: int) -> bytes:  # noqa: ARG002 - a line's
        answers, self._answers = self._answers, b""
        return answers

    def close(self) -> None:
        """Nothing is held."""


RESTED = REST_US / 1e6


@pytest.mark.parametrize(
    ("story", "complaint"),
    [
        ([(RESTED, "ROUT:CLOS (@1)"), (1, "ROUT:OPEN (@1)")], ""),
        ([(RESTED - 1, "ROUT:CLOS (@1)"), (1, "ROUT:OPEN (@1)")], "299.0 s after the last stop"),
        ([(RESTED, "ROUT:CLOS (@1)"), (1, "OUTP OFF"), (1, "OUTP ON"), (1, "ROUT:OPEN (@1)")], "1.0 s after the last"),
        ([(RESTED, "ROUT:CLOS (@1,2)"), (1, "ROUT:OPEN (@1,2)")], "W1 and Y1 together"),
        ([(RESTED, "ROUT:CLOS (@1)"), (1, "ROUT:CLOS (@3)"), (1, "ROUT:OPEN:ALL")], "the valve's call changed"),
        ([(RESTED, "ROUT:CLOS (@1)")], "left on: relays [1]"),
        ([(RESTED, "ROUT:CLOS (@1,4)"), (1, "ROUT:OPEN (@1)"), (1, "ROUT:CLOS (@1)"), (1, "ROUT:OPEN:ALL")], "1.0 s"),
        ([(RESTED, "ROUT:CLOS (@1,4)"), (1, "ROUT:OPEN (@4)"), (1, "ROUT:CLOS (@4)"), (1, "ROUT:OPEN:ALL")], ""),
        ([(RESTED, "ROUT:CLOS (@1)"), (1, "ROUT:OPEN (@1)")] * 7, "7 starts within an hour"),
    ],
)  # fmt: skip
def test_the_checker_finds_what_it_is_for(story: list[tuple[float, str]], complaint: str) -> None:
    script = Script()
    watch = WatchedLink(script, Board(calls={"Y1": 1, "W1": 2, "O": 3, "Y2": 4}), [frozenset({"Y1", "W1"})])
    for tag, (seconds, command) in enumerate([(0.0, "OUTP ON"), *story, (0.0, "OUTP OFF")]):
        script.us += round(seconds * 1e6)
        watch.send(seal(">", tag, command))
        watch.receive(0)
    watch.close()

    WatchedLink.all.remove(watch)
    assert bool(watch.complaints) == bool(complaint)
    assert all(complaint in text for text in watch.complaints)
