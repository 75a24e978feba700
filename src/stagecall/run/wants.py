"""What a run's script asks of the loop that serves it."""

from __future__ import annotations

from collections.abc import Callable, Generator
from typing import Any

import msgspec

from stagecall.model.sequence import Condition
from stagecall.rigs.contract import Look, Move
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
    """Do it. Answer: ms within which it must be seen to move."""

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
    """Do one move of it. Answer: ms within which it must be seen to move."""

    move: Move


class LookFor(msgspec.Struct):
    """What comes next, for a person who looks and listens. No answer."""

    look: Callable[[], Look]
    """Asked only where a person is there."""


class Survey(msgspec.Struct):
    """Do these hold? Answer: ms within which a snapshot tells; 0 where nobody is there to look."""

    states: Callable[[], tuple[Condition, ...]]
    """Asked only where a person is there."""


class Alarm(msgspec.Struct):
    """Fill the person's screen with an order. No answer."""

    text: str


class HoldHeat(msgspec.Struct):
    """Let no heat call through from now on, or again. No answer."""

    held: bool


class Say(msgspec.Struct):
    """Tell the person. No answer."""

    text: str


Want = (
    Poll
    | Listen
    | Snap
    | Clear
    | Earliest
    | Act
    | Sample
    | Reset
    | AllOff
    | MakeSafe
    | LookFor
    | Survey
    | Say
    | Alarm
    | HoldHeat
)
Script = Generator[Want, Any, None]
Asking = Generator[Want, Any, bool]
"""A piece of script that comes to a person's yes (True) or no."""


class Interrupted(Exception):  # noqa: N818 - thrown into the script by the loop; not an error
    """The person broke the run off."""


class Refused(Exception):  # noqa: N818 - ends the run, inside this room only
    """Nothing more is called in this run."""


class Ordered(Refused):
    """As that, and the person is ordered to shut the system off."""


class CutShort(Exception):  # noqa: N818 - ends one sequence, inside this module only
    """The rest of a sequence is not run."""
