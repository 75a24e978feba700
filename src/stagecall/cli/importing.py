"""``stagecall import``: somebody else's recording becomes a log and is judged by monitors."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path

from stagecall.cli.naming import log_path, run_id
from stagecall.cli.saying import code_of, tell
from stagecall.documents import Library, resolve_monitor
from stagecall.errors import UsageError
from stagecall.imports import Recording, load_map, read_recording
from stagecall.judge import Judge
from stagecall.model.event import Document
from stagecall.record import Log, document
from stagecall.report.as_json import as_object
from stagecall.report.record import Gathering
from stagecall.report.terminal import drawn
from stagecall.rigs.clock import Clock, SystemClock
from stagecall.run.ledger import Ledger


def import_(  # noqa: PLR0913 - a command's options
    table: str, map_file: str, *, monitors: tuple[str, ...], log: str | None, as_json: bool, clock: Clock | None = None
) -> int:
    """Write the log, judge it, print the result, and give the exit code.

    Raises:
        NotInLibraryError: there is no map or monitor of that name.
        DocumentError: the map or a monitor is wrong.
        UsageError: the table cannot be read, or no monitor applies to it.
        LogWriteError: the log cannot be written.
    """
    library = Library()
    recording = read_recording(Path(table), load_map(library.find("map", map_file)))
    documents = list(_monitors(library, recording, monitors))
    run = run_id(clock or SystemClock())
    header = recording.header(run)
    path = log_path(log, run)
    gathering = Gathering(header, log=str(path))
    ledger = Ledger(Log.create(path, header), Judge(), header, gathering.take)
    for line in recording.lines(documents):
        ledger.put(line)
    record = gathering.record(digest=ledger.close())
    tell(json.dumps(as_object(record), indent=2) if as_json else drawn(record, sys.stdout))
    return code_of(record.verdict)


def _monitors(library: Library, recording: Recording, named: tuple[str, ...]) -> Iterator[Document]:
    """Those named, which must then be judged; else all whose points the map supplies."""
    supplied = recording.source.points.keys()
    chosen = named or tuple(
        name
        for name in library.names("monitor")
        if supplied >= set(library.load("monitor", name).document.needs.points)
    )
    if not chosen:
        raise UsageError(f"no monitor needs only what this map supplies ({', '.join(sorted(supplied))})")
    for name in chosen:
        loaded = library.load("monitor", name)
        monitor = resolve_monitor(loaded, None, {}, library, must_run=bool(named), seen=supplied)
        yield document("monitor", monitor.name, loaded.raw, monitor)
