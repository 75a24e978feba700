"""A file whose rows are spans, to a recording."""

from __future__ import annotations

from pathlib import Path

from stagecall.documents import Loaded
from stagecall.errors import UsageError
from stagecall.imports.cells import state_reader, states_of
from stagecall.imports.recording import Recording
from stagecall.imports.spans import Lane, Span, join, span_lines
from stagecall.imports.stamps import Stamps, column_names
from stagecall.imports.table import Rows
from stagecall.model.event import PointBounds, SourceBounds
from stagecall.model.map import Map

_BEFORE_MS = 1000
"""The log begins so long before the first span, where the map gives no interval; all is off then."""


class _Reader:
    """Reads rows of one map: a span, and which of the map's columns it counts for."""

    def __init__(self, map_: Map) -> None:
        self.stamps = Stamps(map_.time)
        starts, ends = column_names(map_.time.start), column_names(map_.time.end)
        named = [column.column for column in map_.columns if column.column]
        self.wanted = [*starts, *ends, *named]
        self._start = slice(0, len(starts))
        self._end = slice(len(starts), len(starts) + len(ends))
        self._columns = [
            (
                self.wanted.index(column.column, len(starts) + len(ends)) if column.column else None,
                state_reader(column, map_),
                states_of(column)[0],
            )
            for column in map_.columns
        ]

    def read(self, cells: list[str]) -> tuple[Span, list[bool]]:
        """One row; its times are since 1970. Raises ValueError with the complaint."""
        span = Span(self.stamps.ms(" ".join(cells[self._start])), self.stamps.ms(" ".join(cells[self._end])))
        if span.end <= span.start:
            raise ValueError(f"ends ('{' '.join(cells[self._end])}') no later than it begins")
        return span, [place is None or read(cells[place]) == on for place, read, on in self._columns]


def read_spans(path: Path, loaded: Loaded[Map]) -> Recording:
    """Read a file whose rows are spans.

    Raises:
        UsageError: the file cannot be read, has not the columns that the map names, or holds no row that can be used.
    """
    map_ = loaded.document
    reader = _Reader(map_)
    rows = Rows(path, map_, reader.wanted)
    found: list[list[Span]] = [[] for _ in map_.columns]
    used = 0
    for line, cells in rows:
        try:
            span, counts = reader.read(cells)
        except ValueError as error:
            rows.leave_out(line, str(error))
            continue
        used += any(counts)
        for spans, one_counts in zip(found, counts, strict=True):
            if one_counts:
                spans.append(span)
    if not used:
        raise UsageError(rows.empty_sentence())
    interval = None if map_.time.interval is None else int(map_.time.interval.to("time"))
    late = max(0, (interval or 0) - 1)
    origin = min(span.start for spans in found for span in spans) - (interval or _BEFORE_MS)
    return Recording(
        path=path,
        loaded=loaded,
        source=_source(map_, interval, late),
        start=reader.stamps.rfc3339(origin),
        used=used,
        rows=rows,
        events=lambda: span_lines(_lanes(map_, found, origin), late),
    )


def _source(map_: Map, interval: int | None, late: int) -> SourceBounds:
    points = {
        column.point: PointBounds(
            sensed=column.sensed or "person", late_on=(0, late), late_off=(0, late), blind=interval or 0
        )
        for column in map_.columns
        if column.point is not None
    }
    return SourceBounds(makes_calls=False, points=points, call_width=late, interval=interval)


def _lanes(map_: Map, found: list[list[Span]], origin: int) -> list[Lane]:
    joined = map_.touching == "joined"
    lanes = []
    for column, spans in zip(map_.columns, found, strict=True):
        on, off = states_of(column)[:2]
        shifted = [Span(span.start - origin, span.end - origin) for span in spans]
        name = column.call or column.point or ""
        lanes.append(Lane(column.call is not None, name, off, on, join(shifted, touching=joined)))
    return lanes
