"""A recording: what a CSV file holds, read and ready to be written to a log."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import msgspec

from stagecall import __version__
from stagecall.documents import Loaded
from stagecall.imports.table import BadRow, Rows
from stagecall.model.event import AnyLine, Document, Header, Note, SourceBounds
from stagecall.model.map import Map
from stagecall.record import document

_TOLD = 50
"""So many bad rows get a note of their own in the log."""


class Recording(msgspec.Struct, frozen=True, kw_only=True):
    """What a file holds: the bounds it can promise, its events, what was left out.

    ``start`` is the log's moment 0 (RFC 3339; offset ``-00:00`` where the zone is unknown), ``used`` the number of rows
    used, ``rows`` the table with its ``bad`` lines and ``zero_rows``. ``events`` gives the events in the order of time,
    with settled lines between them.
    """

    path: Path
    loaded: Loaded[Map]
    source: SourceBounds
    start: str
    used: int
    rows: Rows
    events: Callable[[], Iterator[AnyLine]]

    @property
    def bad(self) -> tuple[BadRow, ...]:
        """Lines that were left out, in the order of the file."""
        return tuple(sorted(self.rows.bad, key=lambda one: one.line))

    def header(self, run: str, system: str = "unknown") -> Header:
        """The first line of a log of this recording."""
        return Header(
            tool=__version__,
            run=run,
            start=self.start,
            tested_on="recorded log",
            rig="import",
            system=system,
            kit=self.loaded.document.map,
            source=self.source,
        )

    def lines(self, documents: Iterable[Document] = ()) -> Iterator[AnyLine]:
        """All lines after the header: the map, the *documents* to judge by, what was left out, the events."""
        map_ = self.loaded.document
        yield document("map", map_.map, self.loaded.raw, map_)
        yield from documents
        for text in self.remarks():
            yield Note(text=text)
        yield from self.events()

    def remarks(self) -> Iterator[str]:
        """What a reader should know of the file, a sentence each."""
        yield f"{self.path.name}: {self.used} rows were used."
        if self.rows.zero_rows:
            yield f"{self.rows.zero_rows} rows of zeros were taken as never recorded."
        bad = self.bad
        for one in bad[:_TOLD]:
            yield f"Left out: {one}."
        if len(bad) > _TOLD:
            yield f"Left out: {len(bad) - _TOLD} more lines."
