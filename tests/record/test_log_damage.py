"""What a reader makes of a log that was torn, damaged or meddled with."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import strategies
from stagecall.errors import LogError
from stagecall.model.event import AnyLine, Edge, Header, Note, Seal, Settled
from stagecall.record import Log, read
from stagecall.record.framing import encode, seal_in

Closed = Callable[[list[AnyLine]], bytes]


def test_a_log_cut_at_every_byte_reads_to_its_last_whole_line(closed: Closed, blower_lines: list[AnyLine]) -> None:
    raw = closed(blower_lines)
    whole = list(read(raw).lines)
    first = raw.index(b"\n") + 1

    for cut in range(first, len(raw)):
        reading = read(raw[:cut])
        lines = list(reading.lines)

        assert lines == whole[: raw[:cut].count(b"\n")]
        assert not reading.complete
        torn = (
            []
            if raw[cut - 1 : cut] == b"\n"
            else [f"Line {len(lines) + 1} is torn (the log ends inside it) and is left out."]
        )
        assert [damage.text for damage in reading.damage] == torn


def test_a_log_cut_inside_its_first_line_is_no_log(closed: Closed) -> None:
    raw = closed([])
    for cut in range(raw.index(b"\n") + 1):
        with pytest.raises(LogError):
            read(raw[:cut])


def test_every_byte_of_a_log_is_covered_by_a_checksum_or_a_seal(closed: Closed, blower_lines: list[AnyLine]) -> None:
    raw = closed(blower_lines)
    whole = list(read(raw).lines)

    for place in range(len(raw)):
        hurt = raw[:place] + bytes([raw[place] ^ 0x01]) + raw[place + 1 :]
        line_number = raw[:place].count(b"\n") + 1
        try:
            reading = read(hurt)
        except LogError:
            assert line_number == 1
            continue
        lines = list(reading.lines)

        assert reading.damage[0].line == line_number
        assert set(map(encode, lines)) <= set(map(encode, whole))
        assert len(lines) >= len(whole) - 2  # a damaged line feed costs two


def test_a_damaged_line_in_the_middle_is_located_and_the_rest_is_read(
    closed: Closed, blower_lines: list[AnyLine]
) -> None:
    raw = closed(blower_lines)
    rows = raw.splitlines(keepends=True)
    hurt = raw.replace(b'"state":"on"', b'"state":"no"')

    reading = read(hurt)
    numbers = [line.n for line in reading.lines]

    assert numbers == [0, 2, 3, 4, 5]
    assert [str(damage) for damage in reading.damage] == [
        f"line 2 (byte {len(rows[0])}): Line 2 is damaged (its checksum is wrong) and is left out."
    ]
    assert not reading.complete


def test_an_edit_with_its_checksum_made_right_breaks_the_seal_and_the_reader_says_between_which_lines(
    header: Header,
) -> None:
    log = Log.in_memory(header)
    for t in range(1400):
        log.append(Note(t=t, text="z" * 100))
    log.close()
    rows = log.contents().splitlines(keepends=True)
    seals = [number for number, row in enumerate(rows, 1) if b'"k":"seal"' in row]
    edited = rows[seals[0] + 10]
    rows[seals[0] + 10] = seal_in(edited[: edited.index(b',"crc"')].replace(b"zz", b"zy") + b"}")

    reading = read(b"".join(rows))
    count = sum(1 for _ in reading.lines)

    assert count == len(rows)
    assert [damage.text for damage in reading.damage] == [
        (
            f"The seal on line {seals[1]} does not fit: something was changed, added or taken away between line "
            f"{seals[0]} and line {seals[1]}."
        )
    ]


@settings(max_examples=60)
@given(strategies.bodies(), st.data())
def test_any_line_taken_away_doubled_or_exchanged_with_its_neighbour_is_noticed(
    body: list[AnyLine], data: st.DataObject
) -> None:
    log = Log.in_memory(data.draw(strategies.headers()))
    for line in body:
        log.append(line)
    log.close()
    rows = log.contents().splitlines(keepends=True)
    place = data.draw(st.integers(1, len(rows) - 1))
    change = data.draw(st.sampled_from(["taken away", "doubled", "exchanged"]))
    if change == "taken away":
        del rows[place]
    elif change == "doubled":
        rows.insert(place, rows[place])
    elif place > 1:
        rows[place - 1], rows[place] = rows[place], rows[place - 1]
    else:
        return

    reading = read(b"".join(rows))
    list(reading.lines)

    assert reading.damage or (change == "taken away" and place == len(rows))
    assert not reading.complete


def test_what_stands_after_the_closing_seal_is_left_out_and_the_log_is_not_complete(closed: Closed) -> None:
    raw = closed([Settled(t=10)])
    reading = read(raw + seal_in(encode(Edge(n=9, t=11, point="blower", state="on"))))

    assert [line.n for line in reading.lines] == [0, 1, 2]
    assert [damage.text for damage in reading.damage] == ["Line 4 stands after the closing seal and is left out."]
    assert not reading.complete


@pytest.mark.parametrize(
    ("body", "why"),
    [
        (b'{"k":"dream","n":1,"t":10}', r".*'dream'.*"),
        (b'{"k":"settled","n":1,"t":"late"}', r"Expected `int`, got `str` - at `\$\.t`"),
        (b'{"k":"settled","n":1,"t":' + b"9" * 5000 + b"}", r"Integer value out of range - at `\$\.t`"),
        (b'{"k":"note","n":1,"t":10,"text":"\xff"}', r".*invalid start byte"),
        (b'{"k":"settled","n":1,"t":10,"more":' + b"[" * 100_000 + b"]" * 100_000 + b"}", r"maximum recursion depth.*"),
        (b"[}", r"Expected `object`, got `array`"),
    ],
)
def test_a_line_with_a_right_checksum_that_makes_no_sense_is_told_and_left_out(
    closed: Closed, body: bytes, why: str
) -> None:
    raw = closed([Settled(t=10)])
    row = raw.splitlines(keepends=True)[1]
    reading = read(raw.replace(row, seal_in(body)))

    assert [line.n for line in reading.lines] == [0, 2]
    assert len(reading.damage) == 1
    assert re.fullmatch(rf"Line 2 cannot be understood and is left out: {why}\.", reading.damage[0].text)


def test_a_line_feed_that_became_two_bytes_is_damage_on_every_line_but_costs_no_crash(
    closed: Closed, blower_lines: list[AnyLine]
) -> None:
    raw = closed(blower_lines)
    header, rest = raw.split(b"\n", 1)
    reading = read(header + b"\n" + rest.replace(b"\n", b"\r\n"))

    assert len(list(reading.lines)) == 1
    assert [damage.line for damage in reading.damage] == [2, 3, 4, 5, 6]


@pytest.mark.parametrize("raw", [b"", b"\n", b"time,compressor\n0,1\n", b"\x00" * 100, b'{"k":"note"}\n', b"[1, 2]\n"])
def test_what_is_no_log_is_refused_in_one_sentence(tmp_path: Path, raw: bytes) -> None:
    path = tmp_path / "a.run.jsonl"
    path.write_bytes(raw)

    with pytest.raises(LogError) as caught:
        read(path)
    assert str(caught.value) == f"{path} is not a run log: its first line is no header."


def test_a_damaged_first_line_is_refused_in_one_sentence(closed: Closed) -> None:
    with pytest.raises(LogError) as caught:
        read(closed([]).replace(b"split", b"spilt"))
    assert str(caught.value) == "The first line of this log is damaged; without it nothing can be judged."


@pytest.mark.parametrize("more", [b'"format":2,', b'"format":2,"tested_on":"moon",'])
def test_a_newer_format_is_refused_and_says_what_to_do(header: Header, more: bytes) -> None:
    body = encode(header).replace(
        b'"tested_on":"model",', more if b"tested_on" in more else more + b'"tested_on":"model",'
    )

    with pytest.raises(LogError) as caught:
        read(seal_in(body))
    assert str(caught.value) == "this log is a log of format 2; this program reads up to 1. Use a newer Stagecall."


def test_a_header_that_cannot_be_understood_is_refused(header: Header) -> None:
    with pytest.raises(LogError, match=r"^The first line of this log cannot be understood: .*tested_on.*\.$"):
        read(seal_in(encode(header).replace(b'"model"', b'"moon"')))


@pytest.mark.parametrize(("name", "why"), [("none.run.jsonl", "there is no such file"), ("", "is a directory")])
def test_a_log_that_cannot_be_opened_is_told(tmp_path: Path, name: str, why: str) -> None:
    with pytest.raises(LogError) as caught:
        read(tmp_path / name)
    assert str(caught.value) == f"The log {tmp_path / name} cannot be read: {why}."


KILLED = """
import sys
from pathlib import Path
from stagecall.model.event import Header, Note, SourceBounds
from stagecall.record import Log
header = Header(tool="1", run="r", start="2026-01-02T03:04:05+01:00", tested_on="model", rig="simulated",
                system="s", kit="k", source=SourceBounds())
log = Log.create(Path(sys.argv[1]), header, real_time=sys.argv[2] == "real")
for t in range(10_000_000):
    log.append(Note(t=t, text="running on and on"))
    if t == 2000:
        print("well under way", flush=True)
"""


@pytest.mark.parametrize("pace", ["model", "real"])
def test_a_process_killed_while_it_writes_leaves_a_log_that_reads_to_its_last_whole_line(
    tmp_path: Path, pace: str
) -> None:
    path = tmp_path / "a.run.jsonl"
    with subprocess.Popen([sys.executable, "-c", KILLED, str(path), pace], stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        process.send_signal(signal.SIGKILL)
    assert process.returncode == -signal.SIGKILL

    reading = read(path)
    lines = list(reading.lines)

    assert not reading.complete
    assert [line.n for line in lines] == list(range(len(lines)))
    assert len(lines) >= (2000 if pace == "real" else 400)
    assert path.read_bytes().count(b"\n") == len(lines)
    assert all("torn" in damage.text for damage in reading.damage)
    assert any(isinstance(line, Seal) for line in lines)
