"""The reserve beside a log: given up when the disk is full, so that what ends a run can still be written."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from stagecall.errors import LogWriteError
from stagecall.model.event import Edge, Header, Note
from stagecall.record import Log, read
from stagecall.record.sinks import RESERVE_BYTES


class Disk:
    """Holds so many bytes in all of a folder's files."""

    def __init__(self, folder: Path, size: int, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.size = folder, size
        self._write, self._fsync = os.write, os.fsync
        self.synced = 0
        monkeypatch.setattr(os, "write", self.write)
        monkeypatch.setattr(os, "fsync", self.fsync)

    @property
    def free(self) -> int:
        return self.size - sum(path.stat().st_size for path in self.folder.iterdir())

    def write(self, handle: int, chunk: bytes) -> int:
        if self.free <= 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return self._write(handle, bytes(chunk)[: self.free])

    def fsync(self, handle: int) -> None:
        self.synced += 1
        self._fsync(handle)


def run_on(log: Log) -> None:
    for t in range(9_000):
        log.append(Note(t=t, text="running on and on"))


def test_a_log_in_real_time_keeps_a_reserve_beside_it_until_it_is_closed(tmp_path: Path, header: Header) -> None:
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)

    assert (tmp_path / "a.run.jsonl.reserve").stat().st_size == RESERVE_BYTES
    log.close()
    assert [path.name for path in tmp_path.iterdir()] == ["a.run.jsonl"]


def test_a_log_of_the_model_keeps_none(tmp_path: Path, header: Header) -> None:
    Log.create(tmp_path / "a.run.jsonl", header)

    assert [path.name for path in tmp_path.iterdir()] == ["a.run.jsonl"]


def test_on_a_full_disk_the_reserve_goes_and_the_log_is_closed_whole(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    Disk(tmp_path, RESERVE_BYTES + 20_000, monkeypatch)
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    t = 0
    while not log.full:
        t += 1
        log.append(Note(t=t, text="running on and on"))
    log.append(Note(t=t, text="all off"))
    digest = log.close()

    reading = read(tmp_path / "a.run.jsonl")
    lines = list(reading.lines)
    assert (reading.digest, reading.complete, reading.damage) == (digest, True, [])
    assert [line.text for line in lines if isinstance(line, Note)][-1] == "all off"
    assert len([line for line in lines if isinstance(line, Note)]) == t + 1
    assert not (tmp_path / "a.run.jsonl.reserve").exists()


def test_when_the_reserve_is_full_too_it_is_told(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    Disk(tmp_path, RESERVE_BYTES + 20_000, monkeypatch)
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)

    with pytest.raises(LogWriteError, match="the disk is full"):
        run_on(log)
    assert log.full
    assert log.close() == ""


def test_a_disk_without_room_for_the_reserve_is_told_before_the_run_and_nothing_is_left(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)

    with pytest.raises(LogWriteError, match="the disk is full"):
        Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("passed", "synced"), [(1_200, False), (1_250, True)])
def test_an_edge_goes_to_the_disk_a_quarter_of_a_second_later_though_no_line_follows(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch, passed: int, synced: bool
) -> None:
    disk = Disk(tmp_path, 1 << 20, monkeypatch)
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    log.append(Edge(t=1_000, point="blower", state="on"))
    before = disk.synced

    log.passed(passed)

    assert (disk.synced > before) == synced
