"""Creating, appending, sealing, closing; and every way in which writing fails."""

from __future__ import annotations

import errno
import hashlib
import os
import re
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest

from resealed import strip_verdicts
from stagecall.errors import LogWriteError
from stagecall.model.event import (
    Answer,
    AnyLine,
    Call,
    Document,
    Edge,
    Exception_,
    Header,
    Note,
    Reading,
    Refusal,
    Request,
    Seal,
    Settled,
    VerdictLine,
)
from stagecall.model.verdict import Verdict
from stagecall.record import Log, document, read


def seals(raw: bytes) -> list[Seal]:
    return [line for line in read(raw).lines if isinstance(line, Seal)]


def test_lines_are_numbered_from_the_header_on(header: Header, blower_lines: list[AnyLine]) -> None:
    log = Log.in_memory(header)

    assert log.header.n == 0
    assert [log.append(line).n for line in blower_lines] == [1, 2, 3, 4]
    assert [line.n for line in blower_lines] == [-1, -1, -1, -1]


def test_the_seals_chain_what_stands_in_the_file_by_sha_256(header: Header) -> None:
    log = Log.in_memory(header)
    for second in range(1500):
        log.append(Note(t=second, text="x" * 100))
    digest = log.close()
    raw = log.contents()

    before, since = "", b""
    for row in raw.splitlines(keepends=True):
        if b'"k":"seal"' not in row:
            since += row
            continue
        assert f'"before":"{before}","since":"{hashlib.sha256(since).hexdigest()}"'.encode() in row
        before, since = hashlib.sha256(row).hexdigest(), b""
    assert (since, before) == (b"", digest)
    assert [seal.closing for seal in seals(raw)] == [False, False, False, True]
    assert seals(raw)[-1].count == raw.count(b"\n")


def test_no_seal_is_further_than_64_kib_and_one_line_from_the_one_before(header: Header) -> None:
    log = Log.in_memory(header)
    for second in range(2000):
        log.append(Note(t=second, text="y" * (second % 300)))
    log.close()

    stretches = re.split(rb'\{"k":"seal".*\n', log.contents())

    assert len(stretches) > 5
    assert max(map(len, stretches)) < 64 * 1024 + 400


def test_where_time_is_real_a_seal_falls_at_least_every_second_of_lines(tmp_path: Path, header: Header) -> None:
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    for t in range(0, 5000, 100):
        log.append(Note(t=t, text="running"))
    log.close()

    stamps = [seal.t for seal in seals((tmp_path / "a.run.jsonl").read_bytes())]

    assert stamps == [1000, 2000, 3000, 4000, 4900]


@pytest.mark.parametrize(
    "line",
    [
        Request(t=5, calls=("Y1",)),
        Call(t=5, terminal="Y1", state="on"),
        Answer(t=5, value="yes"),
        Exception_(t=5, sequence="s", id="i", by="A", role="owner", because="later"),
        Refusal(t=5, because="minimum off"),
    ],
)
def test_where_time_is_real_what_moves_or_decides_is_on_the_disk_when_append_returns(
    tmp_path: Path, header: Header, line: AnyLine, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    monkeypatch.setattr(os, "fsync", lambda _: synced.append((tmp_path / "a.run.jsonl").read_bytes().count(b"\n")))

    log.append(Note(t=1, text="nothing to hurry for"))
    assert synced == []
    log.append(line)
    assert synced == [4]  # header, note, line, seal
    log.append(line)
    assert synced == [4, 6]  # and again right after a seal
    log.sync()
    assert synced == [4, 6]  # nothing new
    log.close()


def test_where_time_is_real_an_edge_is_on_the_disk_by_the_first_line_250_ms_later(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[str] = []
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    monkeypatch.setattr(os, "fsync", lambda _: synced.append("synced"))

    log.append(Edge(t=100, point="blower", state="on"))
    log.append(Note(t=349, text="not yet"))
    assert synced == []
    log.append(Note(t=350, text="now"))
    assert synced == ["synced"]
    log.append(Note(t=700, text="nothing new to sync"))
    assert synced == ["synced"]
    log.close()


def test_where_time_is_real_sync_waits_for_the_disk_also_right_after_a_seal_and_only_where_something_is_new(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    synced: list[int] = []
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    monkeypatch.setattr(os, "fsync", lambda _: synced.append((tmp_path / "a.run.jsonl").read_bytes().count(b"\n")))

    log.sync()
    assert synced == []
    log.append(Note(t=1500, text="a seal follows at once, for more than a second has passed"))
    assert synced == []
    log.sync()
    assert synced == [3]
    log.sync()
    assert synced == [3]
    log.close()
    log.sync()
    assert synced == [3, 4]


def test_on_the_model_sync_gives_every_line_to_the_file_without_a_seal(tmp_path: Path, header: Header) -> None:
    log = Log.create(tmp_path / "a.run.jsonl", header)
    log.append(Edge(t=5, point="blower", state="on"))
    log.sync()

    reading = read(tmp_path / "a.run.jsonl")

    assert [type(line) for line in reading.lines] == [Header, Edge]
    assert (reading.complete, reading.damage) == (False, [])
    log.close()


def test_a_file_holds_the_same_bytes_as_a_log_in_memory(
    tmp_path: Path, header: Header, blower_lines: list[AnyLine]
) -> None:
    logs = [Log.create(tmp_path / "a.run.jsonl", header), Log.in_memory(header)]
    for log in logs:
        for line in blower_lines:
            log.append(line)

    assert logs[0].close() == logs[1].close()
    assert (tmp_path / "a.run.jsonl").read_bytes() == logs[1].contents()


def test_closing_twice_gives_the_same_digest_and_nothing_is_appended_after(header: Header) -> None:
    log = Log.in_memory(header)
    digest = log.close()

    assert log.close() == digest
    with pytest.raises(ValueError, match="closed"):
        log.append(Note(text="too late"))


@pytest.mark.parametrize(
    ("line", "why"),
    [
        (Settled(t=9_999), "line 2 at 9999 ms comes after line 1 at 10000 ms"),
        (Settled(t=20_000, n=1), "line 1 at 20000 ms comes after line 1 at 10000 ms"),
        (Reading(t=20_000, point="supply_air", value=float("nan")), "would not be readable"),
        (Reading(t=20_000, point="supply_air", value=float("inf")), "would not be readable"),
        (Note(t=20_000, text="\ud800"), "would not be readable"),
        (
            Document(t=20_000, kind="map", name="m", digest="", raw="", typed=msgspec.Raw(b"{\n}")),
            "would not be readable",
        ),
    ],
)
def test_a_line_that_could_not_be_read_back_is_refused_and_leaves_no_trace(
    header: Header, line: AnyLine, why: str
) -> None:
    log = Log.in_memory(header)
    log.append(Settled(t=10_000))
    before = log.contents()

    with pytest.raises(ValueError, match=why):
        log.append(line)
    assert log.contents() == before
    log.close()
    assert read(log.contents()).damage == []


def test_a_document_line_carries_its_text_its_digest_and_its_typed_form() -> None:
    line = document("map", "mine", "map: mine\n", {"map": "mine"})

    assert line.digest == hashlib.sha256(b"map: mine\n").hexdigest()
    assert bytes(line.typed) == b'{"map":"mine"}'


def test_a_log_is_never_written_over(tmp_path: Path, header: Header) -> None:
    path = tmp_path / "a.run.jsonl"
    path.write_text("the first record")

    with pytest.raises(LogWriteError) as caught:
        Log.create(path, header)
    assert str(caught.value) == (
        f"The log {path} exists already; a log is never written over. Choose another name with --log."
    )
    assert path.read_text() == "the first record"


def test_a_missing_folder_is_told(tmp_path: Path, header: Header) -> None:
    with pytest.raises(LogWriteError) as caught:
        Log.create(tmp_path / "nowhere" / "a.run.jsonl", header)
    assert str(caught.value) == (
        f"The log {tmp_path}/nowhere/a.run.jsonl cannot be written: there is no folder {tmp_path}/nowhere."
    )


def test_a_file_where_a_folder_belongs_is_told(tmp_path: Path, header: Header) -> None:
    (tmp_path / "plain").write_text("")

    with pytest.raises(LogWriteError) as caught:
        Log.create(tmp_path / "plain" / "a.run.jsonl", header)
    assert str(caught.value) == (
        f"The log {tmp_path}/plain/a.run.jsonl cannot be written: {tmp_path}/plain is not a folder."
    )


@pytest.mark.skipif(not Path("/proc/self").is_dir(), reason="no folder here that refuses even root")
def test_a_folder_that_may_not_be_written_to_is_told(tmp_path: Path, header: Header) -> None:
    tmp_path.chmod(0o555)
    folder = Path("/sys") if os.access(tmp_path, os.W_OK) else tmp_path  # root passes over a folder's mode

    with pytest.raises(LogWriteError) as caught:
        Log.create(folder / "a.run.jsonl", header)
    assert str(caught.value) == (
        f"The log {folder}/a.run.jsonl cannot be written: the folder {folder} may not be written to."
    )


FULL_DISK = """
import resource, sys
from pathlib import Path
from stagecall.errors import LogWriteError
from stagecall.model.event import Header, Note, SourceBounds
from stagecall.record import Log
path, limit, real_time = Path(sys.argv[1]), int(sys.argv[2]), sys.argv[3] == "real"
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
header = Header(tool="1", run="r", start="2026-01-02T03:04:05+01:00", tested_on="model", rig="simulated",
                system="s", kit="k", source=SourceBounds())
appended = 0
try:
    log = Log.create(path, header, real_time=real_time)
    for t in range(4000):
        log.append(Note(t=t, text="running on and on"))
        appended += 1
except LogWriteError as error:
    print(appended > 0, error)
    if appended:
        try:
            log.append(Note(t=9999, text="again"))
        except LogWriteError as again:
            print("again", again)
        print("digest", repr(log.close()))
"""


def fill_disk(path: Path, limit: int, pace: str) -> list[str]:
    """What a process says that may write *limit* bytes to a file."""
    done = subprocess.run(
        [sys.executable, "-c", FULL_DISK, str(path), str(limit), pace], capture_output=True, text=True, check=True
    )
    return done.stdout.splitlines()


def test_a_full_disk_is_told_before_anything_is_called_and_leaves_no_file(tmp_path: Path) -> None:
    path = tmp_path / "a.run.jsonl"

    assert fill_disk(path, 20, "model") == [f"False The log {path} cannot be written: the disk is full."]
    assert not path.exists()


@pytest.mark.parametrize("pace", ["model", "real"])
def test_a_disk_that_fills_during_a_run_is_told_and_the_log_reads_to_its_last_whole_line(
    tmp_path: Path, pace: str
) -> None:
    path = tmp_path / "a.run.jsonl"

    told = fill_disk(path, 100_000, pace)

    assert told == [
        f"True The log {path} cannot be written: the disk is full.",
        f"again The log {path} cannot be written: the disk is full.",
        "digest ''",
    ]
    reading = read(path)
    lines = list(reading.lines)
    assert len(lines) > 700
    assert lines[-1].n == len(lines) - 1
    assert not reading.complete
    assert all("torn" in damage.text for damage in reading.damage)


def test_a_close_that_fails_is_told_and_leaves_no_digest(
    tmp_path: Path, header: Header, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    log = Log.create(tmp_path / "a.run.jsonl", header)
    monkeypatch.setattr(os, "fsync", full)

    with pytest.raises(LogWriteError, match="the disk is full"):
        log.close()
    assert log.close() == ""


def test_without_its_verdicts_a_log_is_numbered_anew_and_its_seal_is_right(
    header: Header, blower_lines: list[AnyLine]
) -> None:
    verdict = VerdictLine(t=10_000, of="fan", verdict=Verdict.PASS, lines=(1,))
    log = Log.in_memory(header)
    for line in [*blower_lines[:2], verdict, *blower_lines[2:]]:
        log.append(line)
    log.close()

    reading = read(strip_verdicts(log.contents()))
    numbers = [line.n for line in reading.lines]

    assert numbers == [0, 1, 2, 3, 4, 5]
    assert (reading.complete, reading.damage) == (True, [])
