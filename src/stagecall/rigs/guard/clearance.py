"""What the guard answers: go, wait until then, or never, and why."""

from __future__ import annotations

from typing import Literal

import msgspec

Challenge = Literal["minimum_off"]
"""A rule that a step asks to be let off, to see the equipment's own timer work."""


class Go(msgspec.Struct, frozen=True):
    """Nothing stands against it."""


class Wait(msgspec.Struct, frozen=True):
    """Not before ``until`` (ms), and why."""

    until: int
    because: str


class Refuse(msgspec.Struct, frozen=True):
    """Never in this situation, and why; printed as CALL REFUSED."""

    because: str


Clearance = Go | Wait | Refuse
