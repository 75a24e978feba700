"""Relays moved by hand: what is typed moves one thing, through the guard, and all is off at the end."""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence

import pytest
from board_rigs import KIT, SYSTEM, mockup, spec
from board_runs import START, Listener, ready
from native_core import Core

from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Call, Header, Power, Refusal, Switch
from stagecall.record import Log
from stagecall.rigs.clock import HandClock
from stagecall.rigs.guard import Guarded
from stagecall.rigs.registry import premises
from stagecall.run.exercise import Exercise, watched_alone
from stagecall.run.ledger import Ledger
from stagecall.run.loop import turn


class Technician(Listener):
    """Types one line at each look, and keeps what is said."""

    def __init__(self, lines: Sequence[str]) -> None:
        super().__init__()
        self.said: list[str] = []
        self._coming = deque(lines)

    def typed(self) -> list[str]:
        return [self._coming.popleft()] if self._coming else []

    def tell(self, text: str) -> None:
        self.said.append(text)


def exercised(core: Core, *lines: str) -> Technician:
    made, prepared = mockup(core), watched_alone(ready("fan"))
    header = Header(
        tool="0", run="exercise", start=START.isoformat(), tested_on="bench", rig="board", system=SYSTEM, kit=KIT,
        source=made.rig.bounds,
    )  # fmt: skip
    technician = Technician([*lines, "q"])
    session = Exercise(prepared, Ledger(Log.in_memory(header), Judge(), header, technician.show))
    turn(session, Guarded(made.rig, premises(spec(), on_model=False)), technician, clock=HandClock(START))
    assert session.lost is None
    assert core.closed() <= {0, 9, 10, 11, 12, 13}
    return technician


def moved(technician: Technician) -> list[str]:
    told = []
    for line in technician.lines:
        match line:
            case Call():
                told.append(f"{line.terminal} {line.state}")
            case Switch():
                told.append(f"{line.name} {line.state}")
            case Power():
                told.append(f"power {line.state}")
    return told


def of(technician: Technician, kind: type) -> list[AnyLine]:
    return [line for line in technician.lines if isinstance(line, kind)]


def test_a_letter_makes_a_call_and_drops_it_again(core: Core) -> None:
    assert moved(exercised(core, "G", "g")) == ["G on", "G off"]


def test_what_still_stands_is_off_and_restored_at_the_end(core: Core) -> None:
    assert moved(exercised(core, "g", "open limit", "power off")) == [
        "G on", "limit open", "power off", "G off", "limit closed", "power on",
    ]  # fmt: skip


def test_y_is_a_terminal_and_no_answer_and_the_guard_keeps_it_out_while_the_compressor_rests(core: Core) -> None:
    technician = exercised(core, "y")

    assert moved(technician) == []
    assert ["are left" in line.because for line in of(technician, Refusal)] == [True]


def test_cooling_beside_heat_is_refused(core: Core) -> None:
    technician = exercised(core, "w", "y")

    assert moved(technician) == ["W1 on", "W1 off"]
    assert ["heat never runs against cooling" in line.because for line in of(technician, Refusal)] == [True]


@pytest.mark.parametrize("line", ["banana", "open nothing", "Y2", "power", "restore"])
def test_what_is_no_key_moves_nothing_and_the_keys_are_told(core: Core, line: str) -> None:
    technician = exercised(core, line)

    assert moved(technician) == []
    assert any(f"'{line}' moves nothing here." in said for said in technician.said)


def test_what_is_live_is_told(core: Core) -> None:
    said = exercised(core, "g", *["?"] * 20).said[-1]

    assert "Calls: G." in said
    assert "wire G on" in said
