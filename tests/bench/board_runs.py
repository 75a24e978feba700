"""Whole runs on a board in virtual time: prepared, guarded, judged and logged as ever."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from unittest.mock import patch

from board_rigs import KIT, SYSTEM

from stagecall.documents import Library
from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Header
from stagecall.record import Log, read
from stagecall.rigs import board_rig
from stagecall.rigs.board_rig import BoardRig
from stagecall.rigs.clock import HandClock
from stagecall.rigs.guard import Guarded
from stagecall.rigs.registry import RigSpec, premises
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared, prepare
from stagecall.run.session import Session

HEARTBEAT_US = 250_000
"""Often enough for the board, and five times as quick as a real host's."""
START = datetime(2026, 1, 2, 3, 4, 5, tzinfo=UTC)

SHORT = """
sequence: short
title: A fan call of a moment
purpose: Something short to run
group: fan
needs: {calls: [G]}
steps:
  - step: Call the fan
    call: [G]
    lasts: 100 ms
    expect:
      - never: [{gas_valve: on}]
  - step: End the call
    call: []
    lasts: 50 ms
    expect:
      - never: [{gas_valve: on}]
"""


class Listener(Silent):
    """Keeps what was written, and may do something at each line."""

    def __init__(self, at: Callable[[AnyLine], None] = lambda _: None) -> None:
        self.lines: list[AnyLine] = []
        self._at = at

    def show(self, line: AnyLine) -> None:
        self.lines.append(line)
        self._at(line)


@dataclass
class Ended:
    """How a run ended, and what it left."""

    session: Session
    lines: list[AnyLine]
    log: bytes

    @property
    def lost(self) -> str:
        return "" if self.session.lost is None else str(self.session.lost)

    def of(self, kind: type) -> list[AnyLine]:
        return [line for line in self.lines if isinstance(line, kind)]

    def replayed(self) -> list[AnyLine]:
        """The log as it is read back, whole and closed."""
        reading = read(self.log)
        lines = list(reading.lines)
        assert reading.complete
        assert not reading.damage
        return lines


def ready(*sequences: str | Path, system: str = SYSTEM, kit: str = KIT) -> Prepared:
    return prepare(Library(), system=system, kit=kit, sequences=[str(one) for one in sequences])


def perform(rig: BoardRig, prepared: Prepared, wanted: RigSpec, listener: Listener | None = None) -> Ended:
    listener = listener or Listener()
    guarded = Guarded(rig, premises(wanted, on_model=False))
    header = Header(
        tool="0", run="bench", start=START.isoformat(), tested_on=rig.tested_on, rig=rig.name,
        system=prepared.system.system, kit=prepared.kit.kit, source=rig.bounds,
    )  # fmt: skip
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header, listener.show))
    with patch.object(board_rig, "HEARTBEAT_US", HEARTBEAT_US):
        turn(session, guarded, listener, clock=HandClock(START))
    return Ended(session, listener.lines, log.contents())


def written(folder: Path, text: str = SHORT) -> Path:
    file = folder / "short.yaml"
    file.write_text(text, encoding="utf-8")
    return file
