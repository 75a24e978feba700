"""A board that only looks on: it moves nothing, and calls are what its inputs see on the wires."""

from __future__ import annotations

import pytest
from board_rigs import Mockup, mockup, spec, wired
from board_runs import Listener, perform, ready
from native_core import Core

from stagecall.model.event import AnyLine, Call, Edge, Event, Gap, Power, Request, Snapshot, StepMark

WITNESS = spec("trainer-mockup", "bench-16-witness")


@pytest.fixture
def made(core: Core) -> Mockup:
    wired(core, WITNESS)
    core.wait(100_000)
    return mockup(core, WITNESS)


def until(made: Mockup, ms: int) -> list[Event]:
    events: list[Event] = []
    while made.rig._line.settled < ms:
        events += made.rig.poll(ms).events
    return events


def test_calls_and_power_are_seen_on_their_wires(made: Mockup) -> None:
    board = WITNESS.kit.board
    assert board is not None
    made.core.live(board.inputs["wire_Y1"], live=True)
    made.core.run(100)
    first = made.rig.snapshot()
    made.core.live(board.inputs["wire_G"], live=True)
    events = until(made, 3_000)
    made.core.live(board.inputs["wire_R"], live=False)
    events += until(made, 6_000)

    assert (first.calls, first.power) == (("Y1",), "on")
    assert [(e.terminal, e.state) for e in events if isinstance(e, Call)] == [("G", "on")]
    assert [e.state for e in events if isinstance(e, Power)] == ["off"]
    assert [e.point for e in events if isinstance(e, Edge)] == ["wire_G", "wire_R"]


def test_it_moves_nothing_and_sets_nothing_up(made: Mockup) -> None:
    made.rig.snapshot()
    until(made, 2_000)
    made.rig.close()

    assert made.watch.moves == 0
    assert made.core.closed() == set()


def test_a_board_that_starts_anew_is_a_gap_after_which_it_goes_on(made: Mockup) -> None:
    made.rig.snapshot()
    until(made, 2_000)
    made.core.restart(2)
    events = until(made, 4_000)
    made.core.live(WITNESS.kit.board.inputs["limit"], live=True)  # type: ignore[union-attr]
    events += until(made, 7_000)

    assert [e.because for e in events if isinstance(e, Gap)] == ["the board started anew: its supply sagged"]
    assert [e.power for e in events if isinstance(e, Snapshot)] == ["on"]
    assert [(e.point, e.state) for e in events if isinstance(e, Edge)][-1:] == [("limit", "closed")]


def test_lost_events_are_a_gap_after_which_it_goes_on(made: Mockup) -> None:
    made.rig.snapshot()
    made.link.losing_events = True
    made.core.live(WITNESS.kit.board.inputs["limit"], live=True)  # type: ignore[union-attr]
    events = until(made, 2_000)
    made.link.losing_events = False
    made.core.live(WITNESS.kit.board.inputs["limit"], live=False)  # type: ignore[union-attr]
    events += until(made, 4_000)

    assert [e.because for e in events if isinstance(e, Gap)] == ["1 events were lost on the line"]
    assert [e.points["limit"] for e in events if isinstance(e, Snapshot)] == ["closed"]
    assert [(e.point, e.state) for e in events if isinstance(e, Edge)] == [("limit", "open")]


def test_a_step_begins_with_the_last_call_that_it_requires(made: Mockup) -> None:
    board = WITNESS.kit.board
    assert board is not None

    def thermostat(line: AnyLine) -> None:
        if isinstance(line, Request):
            made.core.live(board.inputs["wire_G"], live=" OCCUPIED period" in line.because)

    ended = perform(made.rig, ready("fan", kit="bench-16-witness"), WITNESS, Listener(thermostat))

    assert ended.lost == ""
    begun = [line for line in ended.of(StepMark) if line.phase == "begin"]  # type: ignore[attr-defined]
    called = next(line for line in ended.of(Call))
    assert begun[0].anchor == (called.e, called.t)  # type: ignore[attr-defined]
