"""Recordings of our own for each test, and the real ones where they are at hand."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from stagecall.documents import parse
from stagecall.imports import Recording, read_recording
from stagecall.model.map import Map

REAL = Path(os.environ.get("STAGECALL_RECORDINGS", Path(__file__).parents[3] / "shared" / "logs"))

Import = Callable[..., Recording]


@pytest.fixture
def real() -> Callable[[str], Path]:
    """A recording that other people made; it does not travel with the project."""

    def find(name: str) -> Path:
        path = REAL / name
        if not path.is_file():
            pytest.skip(f"the recording {name} is not here; STAGECALL_RECORDINGS names the folder that holds it")
        return path

    return find


@pytest.fixture
def imported(tmp_path: Path) -> Import:
    """A recording written for the test: its CSV (text, or bytes as they are) and its map."""

    def make(csv: str | bytes, map_text: str) -> Recording:
        path = tmp_path / "recording.csv"
        path.write_bytes(csv if isinstance(csv, bytes) else csv.encode())
        return read_recording(path, parse(Map, map_text.encode(), "test.yaml"))

    return make
