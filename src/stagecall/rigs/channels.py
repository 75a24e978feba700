"""What a board's channels mean for one system: from the kit's table to commands, states and bounds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import msgspec

from stagecall.errors import UsageError
from stagecall.model.event import SourceBounds
from stagecall.model.kit import Board, Kit
from stagecall.points import point
from stagecall.rigs.sight import row_of, source_bounds

RELAY_US = (-300, 10_000)
"""When a contact moves after the time in the reply to its command, µs: the first output of several is up to 0.3 ms
earlier, a relay operates or releases within 10 ms (usual data-sheet maxima, not measured on hardware)."""
READ_EVERY = 1_000
"""How often a quantity is read where the kit says nothing, ms."""
SPLIT = ("supply_air", "return_air")
"""Two probes whose difference is read as well, where the kit has a row for it."""


class Lamp(msgspec.Struct, frozen=True):
    """A point on an AC input: its states while the input is live and while it is dead."""

    point: str
    live: str
    dead: str


class Channels(msgspec.Struct, frozen=True, kw_only=True):
    """One kit's board, ready for use."""

    board: Board
    bounds: SourceBounds
    lamps: dict[int, Lamp]
    """By input, from 1."""
    every: dict[str, int]
    """How often each quantity is read, ms."""

    def parts(self, quantity: str) -> tuple[str, ...]:
        """The probes that a quantity is read by: itself, or two of which it is the difference."""
        return SPLIT if quantity == "air_split" else (quantity,)

    @property
    def held(self) -> tuple[int, ...]:
        """The relays that are held closed: in a mockup's switches and in the control's 24 V."""
        power = () if self.board.power is None else (self.board.power,)
        return (*self.board.opens.values(), *power)


def listed(channels: Iterable[int]) -> str:
    """A channel list as commands have it."""
    return f"(@{','.join(str(channel) for channel in sorted(channels))})"


def channels(kit: Kit, valve: Literal["O", "B", "unknown"]) -> Channels:
    """Read a kit's board; *valve* says which call the reversing valve is energised by.

    Raises:
        UsageError: the kit says nothing of a board.
    """
    board = kit.board
    if board is None:
        raise UsageError(f"the kit '{kit.kit}' does not say what hangs on which channel of a board ('board:')")
    lamps = {number: lamp for name, number in board.inputs.items() if (lamp := _lamp(name, valve)) is not None}
    read = set(board.probes)
    if set(SPLIT) <= read:
        read.add("air_split")
    rows = {name: row for name in read if (row := row_of(kit, name)) is not None}
    return Channels(
        board=board,
        bounds=source_bounds(kit, [*(lamp.point for lamp in lamps.values()), *rows]),
        lamps=lamps,
        every={name: int(row.every.to("time")) if row.every else READ_EVERY for name, row in rows.items()},
    )


def _lamp(name: str, valve: Literal["O", "B", "unknown"]) -> Lamp | None:
    """None for a reversing valve of which nobody knows what its coil does."""
    known = point(name)
    states = known.states if known is not None else ()
    if states != ("cool", "heat"):
        live, dead = states
        return Lamp(name, live, dead)
    match valve:
        case "O":
            return Lamp(name, "cool", "heat")
        case "B":
            return Lamp(name, "heat", "cool")
    return None


def configuration(board: Board, minimum_open: int) -> list[str]:
    """The commands that make a board ready to close relays; *minimum_open* in ms, 0 for none."""
    made = [f"CONF:MIN {listed([board.calls[call]])},{minimum_open}" for call in board.compressor]
    made += [f"CONF:EXCL {listed([board.calls[a]])},{listed([board.calls[b]])}" for a, b in board.exclusive]
    for call, what in board.readback.items():
        word = "STOP" if what == "stop" else "REP"
        made.append(f"CONF:READ {listed([board.calls[call]])},{listed([board.inputs[f'wire_{call}']])},{word}")
    return [*made, "CONF:LOCK"]
