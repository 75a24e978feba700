"""A fault: a change to a part's parameters, or to a conductor."""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.model.equipment import Value
from stagecall.units import Quantity, Spread

WireChange = Literal["open", "loose", "joint", "short_to_common", "short_to_neighbour", "crossed_with_neighbour"]
"""``loose``: open now and then, for a moment or some seconds, by the run's seed."""

ANY = "any"
"""The target of a fault that is the same wherever it sits."""


class Severity(msgspec.Struct, frozen=True, kw_only=True):
    """The quantity that ``=SEVERITY`` sets: of a parameter of the part, or ``joint`` ohms of a conductor."""

    of: str
    typical: Quantity
    range: Spread


class Caught(msgspec.Struct, frozen=True, kw_only=True):
    """What must catch it on a system with a kit: exactly these sequences and monitors fail, no others."""

    system: str
    kit: str
    at: str | None = None
    """The target that is meant; None: the fault's own."""
    sequences: tuple[str, ...] = ()
    monitors: tuple[str, ...] = ()
    unseen: str | None = None
    """Why nothing can catch it; given only where both lists are empty."""


class Fault(msgspec.Struct, frozen=True, kw_only=True):
    """A fault of the catalogue.

    A part fault names the ``part_kind`` it can befall and the parameters it changes; a conductor fault names ``wire``.
    A ``jumper`` to another screw lies where none belongs, from the screw that is the ``target``.
    ``target`` is where it sits unless the user says otherwise: ``condenser.contactor``, or a conductor's name. It also
    befalls every part of that own name (``contactor``) and kind in another machine; with ``any``, every part of its
    kind, or every conductor. ``control`` (its outputs) and ``thermostat`` (its settings, where it calls on its own) are
    targets too, each its own kind. Faults that come ``together`` are named, each at its own target; nothing else is
    given.
    """

    fault: str
    title: str
    shows: str
    teaches: str
    target: str = ANY
    part_kind: str | None = None
    change: dict[str, Value] = {}
    wire: WireChange | None = None
    jumper: str | None = None
    severity: Severity | None = None
    together: tuple[str, ...] = ()
    caught_by: tuple[Caught, ...] = ()

    @property
    def in_wiring(self) -> bool:
        """Whether it befalls the wiring, not a part."""
        return self.wire is not None or self.jumper is not None


class AppliedFault(msgspec.Struct, frozen=True, kw_only=True):
    """A fault at its place: the catalogue entry, its target, and the severity asked for (None: typical)."""

    fault: Fault
    target: str
    severity: Quantity | None = None
