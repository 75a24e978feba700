"""Rigs on the native core in virtual time: a mockup whose call wires lead back to inputs."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import msgspec
from core_link import CoreLink
from native_core import Core
from watched_link import WatchedLink

from stagecall.documents import Library
from stagecall.model.system import Energy
from stagecall.rigs.board import open_board
from stagecall.rigs.board_rig import BoardRig
from stagecall.rigs.channels import channels
from stagecall.rigs.link import Link
from stagecall.rigs.registry import RigSpec

SYSTEM, KIT = "trainer-mockup", "bench-16"


@cache
def spec(system: str = SYSTEM, kit: str = KIT, *, challenges: bool = False) -> RigSpec:
    """The installation with nothing live on it: relays may lie in its switches and its 24 V."""
    library = Library()
    document = library.load("system", system).document
    document = msgspec.structs.replace(document, energy=Energy(fuel="none", compressor="none", elements="none"))
    return RigSpec(
        system=document,
        profiles=library.profiles(document),
        kit=library.load("kit", kit).document,
        challenges=challenges,
    )


@dataclass
class Mockup:
    """A rig, what it hangs on, the board at the other end, and the checker between."""

    rig: BoardRig
    link: CoreLink
    core: Core
    watch: WatchedLink


def never_together(wanted: RigSpec) -> list[frozenset[str]]:
    """Calls that must not meet on this installation: what its trade knows, not what the kit says."""
    heats_by_pump = any(profile.what == "heat_pump" for profile in wanted.profiles.values())
    heat = ("E",) if heats_by_pump else ("W1", "W2", "W3", "E")
    return [*(frozenset({y, w}) for y in ("Y1", "Y2") for w in heat), frozenset({"O", "B"})]


def watched(link: Link, wanted: RigSpec) -> WatchedLink:
    """The link with the checker before it."""
    assert wanted.kit.board is not None
    return WatchedLink(link, wanted.kit.board, never_together(wanted), early=wanted.challenges)


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
    watch = watched(link, wanted)
    rig = open_board(watch, channels(wanted.kit, wanted.system.control.valve), wanted, runs_ahead=True)
    return Mockup(rig, link, core, watch)
