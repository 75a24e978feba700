"""One column's cells to states and values."""

from __future__ import annotations

import re
from collections.abc import Callable
from math import isfinite
from typing import cast

from stagecall import points
from stagecall.model.map import Column, Map
from stagecall.units import Kind, Quantity

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_ON = frozenset({"on", "true", "yes"})
_OFF = frozenset({"off", "false", "no"})

ReadState = Callable[[str], str | None]
ReadValue = Callable[[str], float | None]


def number(cell: str, *, comma: bool) -> float:
    """A plain number, with a decimal point or comma.

    Raises:
        ValueError: it is none; the message is the complaint.
    """
    text = cell.replace(",", ".") if comma else cell
    if not _NUMBER.fullmatch(text) or not isfinite(value := float(text)):
        raise ValueError(f"'{cell}' is not a number")
    return value


def quantity_of(column: Column) -> Kind | None:
    """The kind of quantity that a column holds; None of a call or a point with states."""
    known = points.point(column.point) if column.point else None
    return known.quantity if known is not None else None


def states_of(column: Column) -> tuple[str, ...]:
    """The states a column's call or point can have."""
    known = points.point(column.point) if column.point else None
    return points.ON_OFF if known is None else known.states


def scale_of(unit: str, kind: Kind) -> tuple[float, float]:
    """Factor and offset from the unit to SI.

    Raises:
        QuantityError: the unit does not measure this kind.
    """
    offset = Quantity(0, unit).to(kind)
    return (Quantity(1000, unit).to(kind) - offset) / 1000, offset


def state_reader(column: Column, map_: Map) -> ReadState:
    """Reads a cell as a state, None where it is missing; raises ValueError with the complaint."""
    missing = {"", *map_.missing.cells, *column.missing}
    comma = map_.table.decimal == "comma"
    on, off = _on_and_off(column)

    def read(cell: str) -> str | None:
        if cell in missing:
            return None
        if column.equals is not None:
            return on if cell == column.equals else off
        if column.states:
            if cell not in column.states:
                raise ValueError(f"'{cell}' is no state that the map knows of '{column.column}'")
            return column.states[cell]
        word = cell.lower()
        if word in _ON:
            return on
        if word in _OFF:
            return off
        return on if (number(cell, comma=comma) >= column.on_from) is not column.low_is_on else off

    return read


def value_reader(column: Column, map_: Map) -> ReadValue:
    """Reads a cell as an SI value, None where it is missing; raises ValueError with the complaint."""
    missing = {"", *map_.missing.cells, *column.missing}
    comma = map_.table.decimal == "comma"
    scale, offset = scale_of(column.unit, cast(Kind, quantity_of(column)))

    def read(cell: str) -> float | None:
        return None if cell in missing else number(cell, comma=comma) * scale + offset

    return read


def _on_and_off(column: Column) -> tuple[str, str]:
    on, off = states_of(column)[:2]
    return on, off
