"""What a run's script asks of the loop that serves it."""

from __future__ import annotations

from collections.abc import Generator
from typing import Any

import msgspec

from stagecall.rigs.contract import Move
from stagecall.rigs.guard import Challenge


class Poll(msgspec.Struct):
    """Events, please, at the latest when ``until`` is settled. Answer: :class:`Batch`."""

    until: int


class Listen(msgspec.Struct):
    """As Poll, while a person is asked something: a model's time stands still. Answer: :class:`Batch`."""

    until: int


class Snap(msgspec.Struct):
    """Everything that can be seen now. Answer: Snapshot."""


class Clear(msgspec.Struct):
    """What stands against a move? Answer: Clearance."""

    move: Move
    challenge: Challenge | None = None


class Earliest(msgspec.Struct):
    """When may the compressor be called, so that it starts that often? Answer: ms and why."""

    starts: int = 1


class Act(msgspec.Struct):
    """Do it. No answer."""

    move: Move
    challenge: Challenge | None = None


class Sample(msgspec.Struct):
    """Read these quantities from now on. No answer."""

    points: frozenset[str]


class Reset(msgspec.Struct):
    """The model plays the person. No answer."""

    what: str


class AllOff(msgspec.Struct):
    """The guard's safe order. Answer: list of (Move, ms to wait)."""


class MakeSafe(msgspec.Struct):
    """Do one move of it. No answer."""

    move: Move


class AwaitEnter(msgspec.Struct):
    """Stand still until the person says go on. No answer."""

    prompt: str


Want = Poll | Listen | Snap | Clear | Earliest | Act | Sample | Reset | AllOff | MakeSafe | AwaitEnter
Script = Generator[Want, Any, None]


class Interrupted(Exception):  # noqa: N818 - thrown into the script by the loop; not an error
    """The person broke the run off."""


class CutShort(Exception):  # noqa: N818 - ends one sequence, inside this module only
    """The rest of a sequence is not run."""
