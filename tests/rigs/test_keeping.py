"""Files that outlive a run: held by one program, found again after a crash."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from rigs.hand_rig import HandRig
from stagecall.errors import LogWriteError, UsageError
from stagecall.model.event import Edge
from stagecall.rigs import keeping
from stagecall.rigs.clock import HandClock
from stagecall.rigs.guard import MINIMUM_OFF, STARTS_WINDOW, Guarded, Premises
from stagecall.rigs.history import History
from stagecall.rigs.keeping import Held

NOW = datetime(2026, 1, 2, 12, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(keeping.FOLDER, str(tmp_path / "state"))
    return tmp_path / "state"


def clock(minutes: float = 0) -> HandClock:
    return HandClock(NOW + timedelta(minutes=minutes))


def history(minutes: float = 0, system: str = "one", board: str = "board-7") -> History:
    return History(board, system, clock(minutes))


def test_a_file_is_held_by_one_at_a_time() -> None:
    first = Held("port", "/dev/ttyUSB0")
    with pytest.raises(UsageError, match="/dev/ttyUSB0 is in use by another run on this computer"):
        Held("port", "/dev/ttyUSB0")
    first.let_go()
    first.let_go()

    Held("port", "/dev/ttyUSB0").let_go()


def test_a_program_that_dies_holds_nothing_any_more() -> None:
    program = "import os; from stagecall.rigs.keeping import Held; held = Held('port', 'COM3'); os._exit(9)"

    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 9
    Held("port", "COM3").let_go()


def test_a_folder_that_cannot_be_made_is_told_with_the_way_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "file").touch()
    monkeypatch.setenv(keeping.FOLDER, str(tmp_path / "file" / "state"))

    with pytest.raises(UsageError, match=keeping.FOLDER):
        keeping.folder()


def test_without_a_name_the_folder_is_the_systems_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(keeping.FOLDER)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "xdg"))
    monkeypatch.setenv("LOCALAPPDATA", str(tmp_path / "xdg"))

    assert keeping.folder() == tmp_path / "xdg" / "stagecall"


def test_starts_are_found_again_in_the_next_run() -> None:
    first = history()
    first.started(0)
    first.started(1_500)
    first.let_go()

    assert history(10).starts == [-601_500, -600_000]


def test_starts_of_another_system_or_board_do_not_count() -> None:
    first = history()
    first.started(0)
    first.let_go()

    other = history(1, system="two")
    assert other.starts == []
    other.started(0)
    other.let_go()
    assert history(1, board="board-8").starts == []
    assert history(2).starts == [-120_000]


def test_what_is_more_than_an_hour_old_is_over() -> None:
    first = history()
    first.started(0)
    first.let_go()

    assert history(STARTS_WINDOW / 60_000).starts == []


def test_after_a_clock_that_was_set_back_a_start_was_just_now() -> None:
    first = history()
    first.started(0)
    first.let_go()

    assert history(-600).starts == [0]


@pytest.mark.parametrize("torn", [b"", b"{", b'{"system":"one","at":"2026-01-02T12:0', b"\xff\xfe", b"[]\n", b"null\n"])
def test_a_crash_while_a_start_is_written_costs_that_start_only(torn: bytes, folder: Path) -> None:
    first = history()
    first.started(0)
    first.let_go()
    (file,) = folder.glob("*.history")
    file.write_bytes(file.read_bytes() + torn)
    second = history(1)
    assert second.starts == [-60_000]
    second.started(0)
    second.let_go()

    assert history(2).starts == [-120_000, -60_000]


def test_the_file_does_not_grow_for_ever(folder: Path) -> None:
    for hour in range(0, 1_000, 2):
        one = history(hour * 60)
        one.started(0)
        one.let_go()

    (file,) = folder.glob("*.history")
    assert file.stat().st_size < 20_000


def test_a_disk_that_takes_nothing_more_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_file: int) -> None:
        raise OSError(28, "No space left on device")

    first = history()
    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(LogWriteError, match=r"starts cannot be kept in .*No space left"):
        first.started(0)


def test_the_guard_counts_the_starts_of_earlier_runs_and_keeps_its_own() -> None:
    before = history()
    for minute in range(6):
        before.started(minute * 60_000)
    before.let_go()

    rig = HandRig({"compressor": "off"})
    guarded = Guarded(rig, Premises(), history(10))
    earliest, because = guarded.compressor.earliest_start()
    assert earliest == STARTS_WINDOW - 15 * 60_000
    assert "6 compressor starts" in because

    rig.happen(Edge(t=MINIMUM_OFF, point="compressor", state="on"))
    guarded.poll(MINIMUM_OFF)
    guarded.close()
    assert len(history(15).starts) == 7
