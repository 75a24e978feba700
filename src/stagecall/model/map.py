"""A map: how somebody else's CSV recording is to be read.

A command column is a call, never a running device: ``CoolCmd1`` says what was asked, not that a compressor ran.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from stagecall.points import Sensed
from stagecall.units import Quantity


class Table(msgspec.Struct, frozen=True, kw_only=True):
    """How the file is written. One record stands on one line; quoted cells may not hold a line feed."""

    delimiter: Literal["comma", "semicolon", "tab", "pipe"] = "comma"
    encoding: str = "utf-8-sig"
    """A name that Python knows (``utf-8``, ``latin-1``, ``cp1252``); the default passes over a byte order mark."""
    decimal: Literal["point", "comma"] = "point"
    header: bool = True
    """False: there is no line of names, and columns are called ``1``, ``2``, …"""


class Time(msgspec.Struct, frozen=True, kw_only=True):
    """Where the time stands and how it is written.

    ``column`` (samples) or ``start`` and ``end`` (spans); several columns are joined by a space (a date and a time).
    ``format``: codes of strptime, ``unix seconds`` or ``unix milliseconds``; of several the first that fits counts.
    ``zone``: ``unknown``, an offset (``-07:00``) or a zone's name (``America/Denver``).
    ``interval``: nominal time between samples (not given: the median step); of spans how often the device looked.
    ``gap``: a longer step than this is a gap (not given: 1.5 times the interval).
    """

    column: str | tuple[str, ...] = ()
    start: str | tuple[str, ...] = ()
    end: str | tuple[str, ...] = ()
    format: str | tuple[str, ...]
    zone: str = "unknown"
    interval: Quantity | None = None
    gap: Quantity | None = None


class Column(msgspec.Struct, frozen=True, kw_only=True):
    """What one column says of one call or one point. A column may be listed more than once.

    A quantity (``supply_air``) has a ``unit``. All else is on (of a switch: closed) where the cell's number is at least
    ``on_from``, or with ``equals`` where the cell is that text; ``states`` instead names the state of each text. Of
    spans ``equals`` picks the rows that count; with neither ``column`` nor ``equals`` all rows do.
    """

    column: str = ""
    call: str | None = None
    point: str | None = None
    sensed: Sensed | None = None
    """How the point was sensed; not given for a call only."""
    unit: str = ""
    on_from: float = 0.5
    """In the column's own unit."""
    low_is_on: bool = False
    """The other way round: on below ``on_from``."""
    equals: str | None = None
    states: dict[str, str] = {}
    uncertainty: Quantity | None = None
    """Of a quantity, ±; of a temperature a difference."""
    holds: Quantity | None = None
    """How long one reading stays valid (not given: until a gap)."""
    missing: tuple[str, ...] = ()
    """Texts that stand for no value in this column, besides those of the whole file."""


class Missing(msgspec.Struct, frozen=True, kw_only=True):
    """What counts as missing. A blank cell always does.

    ``cells``: texts that stand for no value, in any column. ``rows_of_zeros``: a row in which all of these columns are
    0 was never recorded.
    """

    cells: tuple[str, ...] = ()
    rows_of_zeros: tuple[str, ...] = ()


class Map(msgspec.Struct, frozen=True, kw_only=True):
    """The map of one kind of recording.

    ``rows``: ``samples`` (each row is a moment) or ``spans`` (each row is a stretch in which something was on).
    ``touching`` spans (one begins where the other ends) are ``joined`` into one, or stay ``apart``. ``only`` keeps the
    rows whose cells are these texts (one device of many).
    """

    map: str
    title: str
    rows: Literal["samples", "spans"] = "samples"
    table: Table = Table()
    time: Time
    missing: Missing = Missing()
    touching: Literal["joined", "apart"] = "joined"
    only: dict[str, str] = {}
    columns: tuple[Column, ...]
