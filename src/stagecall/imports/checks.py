"""What must agree within a map."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from stagecall import points
from stagecall.documents import Loaded, load
from stagecall.errors import DocumentError, QuantityError
from stagecall.imports.cells import quantity_of, scale_of, states_of
from stagecall.imports.stamps import UNIX, formats_of, zone_of
from stagecall.model.map import Column, Map
from stagecall.units import KIND_WORDS

_CALLED = frozenset({"boiler", "dehumidify"})
"""Points that are calls in themselves, besides the wires."""
_YEARS = ("%Y", "%y", "%c", "%x")
Trouble = tuple[tuple[str | int, ...], str]


def load_map(path: str | Path) -> Loaded[Map]:
    """Read a map from its file.

    Raises:
        DocumentError: with every complaint of the file.
        UsageError: the file cannot be read.
    """
    loaded = load(Map, path)
    check(loaded)
    return loaded


def check(loaded: Loaded[Map]) -> None:
    """Complain of what does not agree within a map.

    Raises:
        DocumentError: with every complaint, in the order of the file.
    """
    complaints = [loaded.complain(place, text) for place, text in _troubles(loaded.document)]
    if complaints:
        raise DocumentError(sorted(complaints, key=lambda one: (one.line, one.column)))


def _troubles(map_: Map) -> Iterator[Trouble]:
    yield from _table_and_time(map_)
    if not map_.columns:
        yield ("columns",), "a map names at least one column"
    before: set[str] = set()
    for index, column in enumerate(map_.columns):
        place = ("columns", index)
        yield from ((place, text) for text in _column(column, map_))
        name = column.call or column.point or ""
        if name in before:
            yield place, f"'{name}' has a column already"
        before.add(name)


def _table_and_time(map_: Map) -> Iterator[Trouble]:
    try:
        "".encode(map_.table.encoding)
    except (LookupError, ValueError):
        yield ("table", "encoding"), f"'{map_.table.encoding}' is no encoding (such as utf-8, latin-1, cp1252)"
    try:
        zone_of(map_.time.zone)
    except ValueError as error:
        yield ("time", "zone"), str(error)
    wanted = ("column",) if map_.rows == "samples" else ("start", "end")
    for key in ("column", "start", "end"):
        given = bool(getattr(map_.time, key))
        if given is not (key in wanted):
            where = "is missing here" if not given else "has no meaning here"
            yield ("time", key) if given else ("time",), f"'{key}' {where}: the rows are {map_.rows}"
    formats = formats_of(map_.time)
    if not formats:
        yield ("time", "format"), "a time has at least one format"
    for form in formats:
        if form not in UNIX and not any(code in form for code in _YEARS):
            yield ("time", "format"), f"'{form}' has no year; join a date and a time as column: [Date, Time]"


def _column(column: Column, map_: Map) -> Iterator[str]:
    if (column.call is None) is (column.point is None):
        yield "a column is of a call or of a point, one of the two"
        return
    if column.point is not None and column.sensed is None:
        yield f"'sensed' is missing here: how '{column.point}' was sensed ({', '.join(points.SENSED)})"
    elif column.sensed == "call_volts" and not (str(column.point).startswith("wire_") or column.point in _CALLED):
        yield f"a command is a call, never a running device: write 'call', or how '{column.point}' itself was sensed"
    if column.call is not None and column.sensed is not None:
        yield "a call is not sensed: it is what was asked; leave 'sensed' out, or name the point that was seen"
    if not column.column and (map_.rows == "samples" or column.equals is not None):
        yield "'column' is missing here"
    kind = quantity_of(column)
    if kind is None:
        yield from _states(column)
    elif map_.rows == "spans":
        yield f"'{column.point}' is a quantity; spans hold what is on from a start to an end"
    else:
        yield from _quantity(column)


def _states(column: Column) -> Iterator[str]:
    name = column.call or column.point
    known = states_of(column)
    for text, state in column.states.items():
        if state not in known:
            yield f"'{state}' (for '{text}') is not a state of {name}; known: {', '.join(known)}"
    if known not in {points.ON_OFF, points.SWITCH} and not column.states:
        yield f"'{name}' needs 'states': which text stands for {' and which for '.join(known)}"
    if column.states and column.equals is not None:
        yield "'states' and 'equals' contradict each other"
    if column.unit or column.uncertainty is not None or column.holds is not None:
        yield f"'unit', 'uncertainty' and 'holds' belong to a quantity; '{name}' has states"


def _quantity(column: Column) -> Iterator[str]:
    kind = quantity_of(column)
    if kind is None:
        return
    if column.states or column.equals is not None:
        yield f"'{column.point}' is a quantity, it has no states"
    if not column.unit and kind not in {"count", "fraction"}:
        yield f"'unit' is missing here: the unit of '{column.point}'"
        return
    try:
        scale_of(column.unit, kind)
    except QuantityError:
        yield f"'{column.unit}' is no unit of '{column.point}'; expected that of {KIND_WORDS[kind]}"
    if column.uncertainty is not None:
        try:
            column.uncertainty.to("difference" if kind == "temperature" else kind)
        except QuantityError as error:
            yield str(error)
