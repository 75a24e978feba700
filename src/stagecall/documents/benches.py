"""What must agree in a kit that says what hangs on which channel of a board."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from stagecall import points
from stagecall.documents.walk import Path, Places
from stagecall.model.kit import Board, Kit

CHANNELS = 16
"""The most relays, and the most inputs, that a board can have."""

Complaints = Iterator[tuple[Path, str]]


def check_kit(document: Kit, places: Places, *, whole: bool, complain: Callable[[Path, str], None]) -> None:  # noqa: ARG001 - Check
    """A kit: every channel of its board does one thing, and all that it sees has a row that tells how well."""
    board = document.board
    if board is None:
        return
    if not document.makes_calls and (board.calls or board.opens or board.power):
        complain(("board",), "a kit that makes no calls has no relays here")
    for at, text in (*_channels(board), *_seen(document, board), *_made(board), *_spoken(board)):
        complain(("board", *at), text)


def _channels(board: Board) -> Complaints:
    relays: list[tuple[Path, int]] = [(("calls", name), number) for name, number in board.calls.items()]
    relays += [(("opens", name), number) for name, number in board.opens.items()]
    relays += [(("power",), board.power)] if board.power is not None else []
    inputs: list[tuple[Path, int]] = [(("inputs", name), number) for name, number in board.inputs.items()]
    probes: list[tuple[Path, int]] = [
        (("probes", name, "analog"), probe.analog) for name, probe in board.probes.items()
    ]
    for what, channels in (("relay", relays), ("input", inputs), ("analog input", probes)):
        taken: dict[int, Path] = {}
        for at, number in channels:
            if not 1 <= number <= CHANNELS:
                yield at, f"no board has {what} {number}"
            elif (before := taken.setdefault(number, at)) != at:
                yield at, f"{what} {number} is that of {' '.join(str(part) for part in before[:2])} already"


def _seen(kit: Kit, board: Board) -> Complaints:
    for name in board.inputs:
        known = points.point(name)
        if known is not None and known.quantity is not None:
            yield ("inputs", name), f"an input is live or dead, {name} is a quantity: give it a probe"
    for group in ("inputs", "probes"):
        for name in getattr(board, group):
            if not {name, name.rstrip("0123456789").rstrip("_")} & set(kit.points):
                yield (group, name), f"'points' has no row for {name}"


def _made(board: Board) -> Complaints:
    named: list[tuple[Path, str]] = [(("compressor", index), name) for index, name in enumerate(board.compressor)]
    named += [(("readback", name), name) for name in board.readback]
    named += [(("exclusive", i, j), name) for i, pair in enumerate(board.exclusive) for j, name in enumerate(pair)]
    for at, name in named:
        if name not in board.calls:
            yield at, f"no relay of this board makes {name}"
    for name in board.readback:
        if f"wire_{name}" not in board.inputs:
            yield ("readback", name), f"no input sees wire_{name}"


def _spoken(board: Board) -> Complaints:
    if board.modbus is None:
        return
    for key in ("compressor", "readback", "exclusive", "probes"):
        if getattr(board, key):
            yield (key,), f"a board over Modbus does this not by itself: leave out '{key}'"
