"""A file whose rows are samples, to a recording."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from statistics import median_low

from stagecall.documents import Loaded
from stagecall.errors import UsageError
from stagecall.imports.cells import quantity_of, state_reader, value_reader
from stagecall.imports.recording import Recording
from stagecall.imports.samples import Layout, Sample, sample_lines, widest_step
from stagecall.imports.stamps import Stamps, column_names
from stagecall.imports.table import Rows
from stagecall.model.event import PointBounds, SourceBounds
from stagecall.model.map import Column, Map

GAP_FACTOR = 1.5
"""A step longer than this many nominal intervals is a gap, unless the map says otherwise."""


class _Reader:
    """Reads rows of one map: which columns are wanted, and what their cells say."""

    def __init__(self, map_: Map) -> None:
        self.calls = [column for column in map_.columns if column.call is not None]
        self.points = [column for column in map_.columns if column.point is not None and quantity_of(column) is None]
        self.quantities = [column for column in map_.columns if quantity_of(column) is not None]
        self.stamps = Stamps(map_.time)
        times = column_names(map_.time.column)
        of_states, of_values = self.calls + self.points, self.quantities
        self.wanted = [*times, *(column.column for column in of_states + of_values)]
        self._states = [state_reader(column, map_) for column in of_states]
        self._values = [value_reader(column, map_) for column in of_values]
        self._time = slice(0, len(times))
        self._state = slice(len(times), len(times) + len(of_states))
        self._value = slice(len(times) + len(of_states), None)

    def read(self, cells: list[str], before: int | None) -> Sample:
        """One row; its time is since 1970 and must come after *before*. Raises ValueError with the complaint."""
        text = " ".join(cells[self._time])
        at = self.stamps.ms(text, before)
        if before is not None and at <= before:
            raise ValueError(f"'{text}' is not after the row before")
        return Sample(
            at,
            tuple(read(cell) for read, cell in zip(self._states, cells[self._state], strict=True)),
            tuple(read(cell) for read, cell in zip(self._values, cells[self._value], strict=True)),
        )


def read_samples(path: Path, loaded: Loaded[Map]) -> Recording:
    """Read a file whose rows are samples.

    Raises:
        UsageError: the file cannot be read, has not the columns that the map names, or holds no row that can be used.
    """
    map_ = loaded.document
    reader = _Reader(map_)
    rows = Rows(path, map_, reader.wanted)
    samples: list[Sample] = []
    before: int | None = None
    for line, cells in rows:
        try:
            sample = reader.read(cells, before)
        except ValueError as error:
            rows.leave_out(line, str(error))
            continue
        before = sample.t
        samples.append(sample)
    if not samples:
        raise UsageError(rows.empty_sentence())
    origin = samples[0].t
    samples = [Sample(sample.t - origin, sample.states, sample.values) for sample in samples]
    interval = _interval(map_, samples)
    gap = int(map_.time.gap.to("time")) if map_.time.gap is not None else int(GAP_FACTOR * (interval or 0))
    layout = Layout(
        tuple(column.call or "" for column in reader.calls),
        tuple(column.point or "" for column in reader.points),
        tuple(column.point or "" for column in reader.quantities),
        gap,
    )
    return Recording(
        path=path,
        loaded=loaded,
        source=_source(reader, samples, interval, gap),
        start=reader.stamps.rfc3339(origin),
        used=len(samples),
        rows=rows,
        events=lambda: sample_lines(samples, layout),
    )


def _interval(map_: Map, samples: Sequence[Sample]) -> int | None:
    if map_.time.interval is not None:
        return int(map_.time.interval.to("time"))
    steps = [after.t - before.t for before, after in pairwise(samples)]
    return median_low(steps) if steps else None


def _source(reader: _Reader, samples: Sequence[Sample], interval: int | None, gap: int) -> SourceBounds:
    widths = [widest_step(samples, place, gap) for place in range(len(reader.calls) + len(reader.points))]
    calls, points = widths[: len(reader.calls)], widths[len(reader.calls) :]
    bounds = {
        column.point or "": _state_bounds(column, widest) for column, widest in zip(reader.points, points, strict=True)
    }
    bounds |= {column.point or "": _reading_bounds(column, gap) for column in reader.quantities}
    return SourceBounds(
        makes_calls=False,
        points=bounds,
        call_width=max([0, *(widest - 1 for widest in calls)]),
        interval=interval,
    )


def _state_bounds(column: Column, widest: int) -> PointBounds:
    """A change right after one row is stamped with the next; a pulse between two rows is missed."""
    late = (0, max(0, widest - 1))
    return PointBounds(sensed=column.sensed or "person", late_on=late, late_off=late, blind=widest)


def _reading_bounds(column: Column, gap: int) -> PointBounds:
    kind = quantity_of(column) or "count"
    uncertainty = 0.0
    if column.uncertainty is not None:
        uncertainty = column.uncertainty.to("difference" if kind == "temperature" else kind)
    holds = gap if column.holds is None else int(column.holds.to("time"))
    return PointBounds(sensed=column.sensed or "person", uncertainty=uncertainty, holds=holds)
