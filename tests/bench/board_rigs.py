"""Rigs on the native core in virtual time: a mockup whose call wires lead back to inputs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from core_link import CoreLink
from native_core import Core

from stagecall.documents import Library
from stagecall.rigs.board import open_board
from stagecall.rigs.board_rig import BoardRig
from stagecall.rigs.channels import channels
from stagecall.rigs.registry import RigSpec

SYSTEM, KIT = "trainer-mockup", "bench-16"


@cache
def spec(system: str = SYSTEM, kit: str = KIT, *, challenges: bool = False) -> RigSpec:
    library = Library()
    document = library.load("system", system).document
    return RigSpec(
        system=document,
        profiles=library.profiles(document),
        kit=library.load("kit", kit).document,
        challenges=challenges,
    )


@dataclass
class Mockup:
    """A rig, what it hangs on, and the board at the other end."""

    rig: BoardRig
    link: CoreLink
    core: Core


def wired(core: Core, wanted: RigSpec) -> None:
    """Each call's wire leads to the input that reads it back; R is live."""
    board = wanted.kit.board
    assert board is not None
    for call, relay in board.calls.items():
        core.wire(relay, board.inputs[f"wire_{call}"])
    core.live(board.inputs["wire_R"], live=True)


def mockup(
    core: Core, wanted: RigSpec | None = None, *, rate: float = 1.0, left: int | None = None, every: int = 250
) -> Mockup:
    wanted = wanted or spec()
    wired(core, wanted)
    link = CoreLink(core, rate, left, every)
    rig = open_board(link, channels(wanted.kit, wanted.system.control.valve), wanted, runs_ahead=True)
    return Mockup(rig, link, core)
