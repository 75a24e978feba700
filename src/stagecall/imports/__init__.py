"""Other people's recordings: a CSV file and its map to the lines of a log."""

from pathlib import Path

from stagecall.documents import Loaded
from stagecall.imports.checks import check, load_map
from stagecall.imports.recording import Recording
from stagecall.imports.sample_rows import read_samples
from stagecall.imports.span_rows import read_spans
from stagecall.imports.table import BadRow
from stagecall.model.map import Map

__all__ = ["BadRow", "Recording", "load_map", "read_recording"]


def read_recording(path: Path, loaded: Loaded[Map]) -> Recording:
    """Read a CSV file by its map.

    Raises:
        DocumentError: the map does not agree with itself.
        UsageError: the file cannot be read, has not the columns that the map names, or holds no row that can be used.
    """
    check(loaded)
    return read_samples(path, loaded) if loaded.document.rows == "samples" else read_spans(path, loaded)
