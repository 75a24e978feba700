"""A system: what is installed, its wiring, its maker data."""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.model.equipment import Value
from stagecall.units import Quantity


class Energy(msgspec.Struct, frozen=True, kw_only=True):
    """What could burn, turn or bite. Unknown counts as live."""

    fuel: Literal["none", "shut_off", "live", "unknown"]
    compressor: Literal["none", "isolated", "live", "unknown"]
    elements: Literal["none", "isolated", "live", "unknown"]

    @property
    def state(self) -> Literal["mockup", "dry", "live"]:
        """``mockup`` where nothing is there, ``dry`` where all that is there is shut off, else ``live``."""
        states = {self.fuel, self.compressor, self.elements}
        if states <= {"none"}:
            return "mockup"
        return "live" if states & {"live", "unknown"} else "dry"


class ShutOff(msgspec.Struct, frozen=True, kw_only=True):
    """Where the system is shut off, in words for whoever stands before it; a live one needs all that it has."""

    fuel: str = ""
    disconnect: str = ""
    breaker: str = ""


class Figure(msgspec.Struct, frozen=True, kw_only=True):
    """A figure of the maker's, with its source; ``tolerance`` as the maker states it."""

    value: Quantity
    source: str
    tolerance: Quantity | None = None


class Installed(msgspec.Struct, frozen=True, kw_only=True):
    """One machine: its profile, what its plate says, and its settings (part.parameter -> value)."""

    profile: str
    make: str = "unknown"
    model: str = "unknown"
    serial: str = "unknown"
    settings: dict[str, Value] = {}


class Control(msgspec.Struct, frozen=True, kw_only=True):
    """The control's end of the cable: its terminals, the jumpers between them, and how its outputs are made.

    ``valve``: the reversing valve is called by O (energised for cooling) or B (for heating); it is told or measured,
    never inferred from a make. ``aux``: the terminals of auxiliary heat, first stage first. ``emergency``: what the
    control makes for emergency heat.
    """

    terminals: tuple[str, ...]
    jumpers: tuple[tuple[str, str], ...] = ()
    valve: Literal["O", "B", "unknown"] = "unknown"
    aux: tuple[str, ...] = ()
    emergency: tuple[str, ...] = ()
    settings: dict[str, Value] = {}


class Conductor(msgspec.Struct, frozen=True, kw_only=True):
    """One wire. ``start`` and ``end`` (written ``from`` and ``to``) are ``control.Y1``, ``furnace.Y`` and the like."""

    name: str
    start: str = msgspec.field(name="from")
    end: str = msgspec.field(name="to")
    colour: str = "unknown"
    gauge: int | None = None
    """AWG."""
    length: Quantity | None = None
    cable: str = ""
    """Conductors of one cable are neighbours in the order listed."""


class Measured(msgspec.Struct, frozen=True, kw_only=True):
    """A measured fact and how it was measured."""

    what: str
    value: str
    how: str


class System(msgspec.Struct, frozen=True, kw_only=True):
    """An installation."""

    system: str
    title: str
    scenario: str
    energy: Energy
    shut_off: ShutOff | None = None
    control: Control
    equipment: dict[str, Installed]
    conductors: tuple[Conductor, ...]
    maker_data: dict[str, Figure] = {}
    measured: tuple[Measured, ...] = ()
    surroundings: dict[str, Quantity] = {}
    """outdoor_air, room_air: what the model starts with where a sequence sets nothing."""
    fitted: tuple[str, ...] = ()
    """Features that ``applies_if: {fitted: …}`` may ask for."""
    must_run: tuple[str, ...] = ()
