"""Equipment profiles: parts by kind, their parameters with range and source, and how they are wired inside."""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.points import Sensed
from stagecall.units import Quantity, Spread

Value = Quantity | str
"""A parameter's value: a quantity, or a word of the kind's own (``free``, ``welded``, ``yes``)."""


class Parameter(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of one part.

    Healthy machines are drawn uniformly from ``range`` (a spread, or a list of words), or from the maker figure's
    tolerance where the system gives that figure under the name ``maker_data``.
    """

    typical: Value
    range: Spread | tuple[str, ...] | None = None
    source: str
    maker_data: str | None = None


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """A part: its kind (a class of ``stagecall.plant``) and its parameters by name."""

    kind: str
    parameters: dict[str, Parameter] = {}


EquipmentKind = Literal[
    "furnace", "condensing_unit", "heat_pump", "air_handler", "boiler", "zone_panel", "accessory", "oil_furnace"
]


class Equipment(msgspec.Struct, frozen=True, kw_only=True):
    """A machine made of parts.

    ``terminals`` are its outer screws (``R``, ``C``, ``Y`` …). ``wiring`` joins nodes: a screw (``W``) or a part's
    terminal (``board.W``). ``points`` says where each point can be sensed and by what means:
    ``{gas_valve: {coil_volts: gas_valve}, blower: {amps: blower}}`` names a part, or a part's terminal whose voltage to
    this equipment's common counts. ``energises`` says what each call alone should energise (points that go on).
    """

    equipment: str
    title: str
    what: EquipmentKind
    terminals: tuple[str, ...]
    parts: dict[str, Part]
    wiring: tuple[tuple[str, str], ...]
    points: dict[str, dict[Sensed, str]] = {}
    switches: dict[str, str] = {}
    """Switches that may be opened on purpose, by the point's name, to the part that is opened."""
    tests: dict[str, str] = {}
    """Tests that its boards' pins start (``defrost_test``), to the part whose pins they are."""
    energises: dict[str, tuple[str, ...]] = {}
    notes: str | None = None
