"""The check of a bench against its kit file, before the first sequence: each relay and each input, one by one.

It is an ordinary sequence, written from the kit: run, logged, judged and replayed like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Literal

import msgspec
import yaml

from stagecall.errors import UsageError
from stagecall.model.kit import Board, Kit
from stagecall.points import point

NAME = "point-to-point"
LIMITS = {
    "seen": {"default": "..1 s", "source": "a relay moves within 15 ms, an input tells within some 40 ms"},
    "a_person": {"default": "..2 min", "source": "a lead is found, lifted and held to R, or put back"},
}

Step = dict[str, Any]


def written(kit: Kit, terminals: tuple[str, ...], *, attended: bool) -> str:
    """The sequence as a file's text; *attended*: somebody is there to hold the leads of inputs that no relay drives.

    Raises:
        UsageError: the kit says nothing of a board.
    """
    board = kit.board
    if board is None:
        raise UsageError(f"the kit '{kit.kit}' does not say what hangs on which channel of a board ('board:')")
    calls = {name: relay for name, relay in board.calls.items() if name in terminals}
    wires = [name for name in calls if f"wire_{name}" in board.inputs]
    first, last = ([name for name in sorted(calls) if (name in board.compressor) is which] for which in (False, True))
    steps = [
        _nothing(wires),
        *(step for name in first for step in _call(name, calls[name], wires)),
        *_switches(board),
        *_power(board),
        *(_leads(board) if attended else ()),
        *(step for name in last for step in _call(name, calls[name], wires)),
    ]
    sequence = {
        "sequence": NAME,
        "title": "Each relay and each input of this bench, one by one",
        "purpose": "A bench that is not wired as its kit says would pass and fail sequences that mean nothing.",
        "group": "power",
        "limits": {name: limit for name, limit in LIMITS.items() if any(_uses(step, name) for step in steps)},
        "monitors": [],
        "steps": steps,
    }
    text: str = yaml.safe_dump(sequence, sort_keys=False, allow_unicode=True, width=110)
    return text


def telling(kit: Kit) -> Kit:
    """The same kit, its board telling of a call's wire that lives with its relay open, where else it would stop.

    So that crossed leads are told by name; nothing that could run hangs on a bench.
    """
    if kit.board is None:
        return kit
    readback: dict[str, Literal["stop", "tell"]] = dict.fromkeys(kit.board.readback, "tell")
    return msgspec.structs.replace(kit, board=msgspec.structs.replace(kit.board, readback=readback))


def unchecked(kit: Kit) -> tuple[str, ...]:
    """The points whose inputs only a person can bring to life."""
    return () if kit.board is None else tuple(name for name, _ in _by_hand(kit.board))


def _uses(step: Step, limit: str) -> bool:
    return any(form.get("within") == limit for form in step["expect"])


def _nothing(wires: list[str]) -> Step:
    return {
        "step": "Nothing is called",
        "because": "A wire that is live now is fed by something else, or by a relay that is welded.",
        "call": [],
        "lasts": "5 s",
        "expect": [{"stays": {f"wire_{name}": "off"}} for name in wires],
    }


def _call(name: str, relay: int, wires: list[str]) -> Iterator[Step]:
    said = f"Relay {relay} makes {name}"
    expect: list[Any] = [{"stays": {f"wire_{other}": "off"}} for other in wires if other != name]
    if name in wires:
        expect.insert(0, {"turns": {f"wire_{name}": "on"}, "within": "seen"})
    else:
        expect.append({"ask": f"Relay {relay} is to make {name}: is that wire live, and no other?"})
    yield {
        "step": said,
        "because": "One wire comes to life, and it is the one that the kit names.",
        "call": [name],
        "lasts": "3 s",
        "expect": expect,
    }
    dropped = [{"turns": {f"wire_{name}": "off"}, "within": "seen"}] if name in wires else []
    yield {"step": f"{said} no more", "call": [], "lasts": "3 s", "expect": dropped}


def _switches(board: Board) -> Iterator[Step]:
    for name, relay in board.opens.items():
        said = name.replace("_", " ")
        seen = name in board.inputs
        asked = {"ask": f"Relay {relay} is to open the {said}: is its circuit open?"}
        yield {
            "step": f"Relay {relay} opens the {said}",
            "because": "The relay lies in that switch's circuit and in no other's.",
            "call": [],
            "open_switch": name,
            "lasts": "3 s",
            "expect": [{"turns": {name: "open"}, "within": "seen"} if seen and _closed_at_rest(name) else asked],
        }
        yield {
            "step": f"Relay {relay} restores the {said}",
            "call": [],
            "restore": name,
            "lasts": "3 s",
            "expect": [{"turns": {name: "closed"}, "within": "seen"}] if seen and _closed_at_rest(name) else [],
        }


def _closed_at_rest(name: str) -> bool:
    """Whether a contact carries while nothing runs; draft switches are open then, whatever lies in their circuit."""
    return not name.startswith("pressure_switch")


def _power(board: Board) -> Iterator[Step]:
    if board.power is None:
        return
    seen = "wire_R" in board.inputs
    for state, said in (("off", "breaks"), ("on", "feeds")):
        asked = {"ask": f"Relay {board.power} {said} the control's 24 V: is R {'dead' if state == 'off' else 'live'}?"}
        yield {
            "step": f"Relay {board.power} {said} the control's 24 V",
            "call": [],
            "power": state,
            "lasts": "3 s",
            "expect": [{"turns": {"wire_R": state}, "within": "seen"} if seen else asked],
        }


def _leads(board: Board) -> Iterator[Step]:
    """Only the input's own lead is held to R: nothing is energised by it, and no switch is bridged."""
    for name, number in _by_hand(board):
        known = point(name)
        assert known is not None  # noqa: S101 - the kit's file was checked
        live, dead = known.states
        said = f"input {number}, that of the {name.replace('_', ' ')},"
        yield {
            "step": f"Lift the lead of {said} and hold it to R",
            "because": "It is the input that the kit names. Only its own lead is lifted: no device is fed.",
            "call": [],
            "expect": [{"turns": {name: live}, "within": "a_person"}],
        }
        yield {
            "step": f"Put the lead of {said} back",
            "call": [],
            "expect": [{"turns": {name: dead}, "within": "a_person"}],
        }


def _by_hand(board: Board) -> Iterator[tuple[str, int]]:
    """Inputs that no relay of the bench drives."""
    driven = {f"wire_{name}" for name in board.calls} | {name for name in board.opens if _closed_at_rest(name)}
    if board.power is not None:
        driven.add("wire_R")
    for name, number in sorted(board.inputs.items(), key=lambda one: one[1]):
        if name not in driven:
            yield name, number
