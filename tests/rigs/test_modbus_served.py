"""A board over Modbus in real time, against the server of the library that speaks it: order and outcome, no times."""

from __future__ import annotations

import msgspec
import pytest

pytest.importorskip("pymodbus", reason="pymodbus is not installed")

from rigs.modbus_server import ServedBoard, served
from rigs.test_modbus import spec
from stagecall.errors import RigLostError, UsageError
from stagecall.model.event import Call, Edge, Event
from stagecall.rigs.contract import Move, Rig
from stagecall.rigs.modbus import prepare
from stagecall.units import parse_quantity


@pytest.fixture
def board():
    with served() as one:
        yield one


def opened(board: ServedBoard) -> Rig:
    kit = spec().kit
    assert kit.board is not None
    assert kit.board.modbus is not None
    patient = msgspec.structs.replace(kit.board.modbus, answer=parse_quantity("2 s"))  # the machine may be busy
    kit = msgspec.structs.replace(kit, board=msgspec.structs.replace(kit.board, modbus=patient))
    return prepare(spec(where=board.port, kit=kit))(0, (), drawn=False)


def until(rig: Rig, terminal: str, state: str) -> list[Event]:
    """All events up to the edge of the point that lies on the same channel as that call."""
    events: list[Event] = []
    while not any(isinstance(event, Edge) and event.state == state for event in events):
        events += rig._advance(rig.now + 1000).events
    assert any(isinstance(event, Call) and event.terminal == terminal and event.state == state for event in events)
    return events


def test_a_call_closes_its_relay_and_its_input_is_seen_in_order(board: ServedBoard) -> None:
    rig = opened(board)
    assert board.closed == [False, False, False, True, True, False, False, True]

    rig._move(Move(calls=frozenset({"Y1"})))
    assert board.closed[0]
    made = until(rig, "Y1", "on")
    rig._move(Move(calls=frozenset()))
    assert not board.closed[0]
    until(rig, "Y1", "off")
    rig.close()

    assert [event.t for event in made] == sorted(event.t for event in made)
    assert not any(board.closed)


def test_a_board_that_is_unplugged_loses_the_rig(board: ServedBoard) -> None:
    rig = opened(board)
    board.unplug()

    with pytest.raises(RigLostError, match="gives no answer"):
        until(rig, "Y1", "on")
    rig.close()


def test_a_board_that_refuses_loses_the_rig(board: ServedBoard) -> None:
    rig = opened(board)
    board.refuses = True

    with pytest.raises(RigLostError, match="refuses to"):
        rig._move(Move(calls=frozenset({"G"})))
    rig.close()


def test_a_port_in_use_is_refused(board: ServedBoard) -> None:
    rig = opened(board)

    with pytest.raises(UsageError, match="is in use by another run"):
        opened(board)
    rig.close()
