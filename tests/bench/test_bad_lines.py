"""No line that is not exactly as specified moves anything."""

from __future__ import annotations

import random
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from native_core import Core
from simulated_board import SMALL, Bench, Part
from vectors import VECTORS

from stagecall.rigs.frames import opened, seal

COMMANDS: list[str] = VECTORS["commands"]


def flipped(line: bytes) -> Iterator[bytes]:
    """Every line with one bit turned."""
    for at in range(len(line)):
        for bit in range(8):
            yield line[:at] + bytes([line[at] ^ 1 << bit]) + line[at + 1 :]


def dropped(line: bytes) -> Iterator[bytes]:
    """Every line with one byte missing."""
    for at in range(len(line)):
        yield line[:at] + line[at + 1 :]


@pytest.mark.parametrize("body", COMMANDS)
def test_both_codecs_refuse_every_single_bit_flip_and_byte_drop(core: Core, body: str) -> None:
    line = seal(">", 0x5A, body)[:-1]

    assert core.opened(line) == opened(line) is not None
    for bad in (*flipped(line), *dropped(line)):
        assert opened(bad) is None, bad
        # A turned bit may give another kind; only ">" is a command.
        assert core.opened(bad) is None, bad


@pytest.mark.parametrize("body", COMMANDS)
def test_the_board_carries_out_nothing_with_a_bit_flipped_or_a_byte_dropped(core: Core, body: str) -> None:
    """The newline's own bits included; a lost newline has its own test."""
    core.run(10)
    line = seal(">", 0x5A, body)
    for bad in (*flipped(line), *dropped(line[:-1])):
        before = core.refused()
        core.feed(bad + b"\n", 0.25)
        assert core.refused() > before, bad
    core.run(50)
    tags = {frame.tag for frame in core.lines if frame.kind == "<"}
    assert tags == set()


def test_a_lost_newline_costs_the_next_line_too_and_carries_out_neither(core: Core) -> None:
    core.feed(seal(">", 1, "*IDN?")[:-1] + seal(">", 2, "*IDN?"), 10)

    assert [frame.kind for frame in core.lines] == ["!"]
    assert core.ask("*OPC?").startswith("OK")


@pytest.mark.thorough
def test_the_avr_binary_refuses_every_flip_and_drop_of_a_call(board: Callable[[Part], Bench]) -> None:
    bench = board(SMALL)
    bench.run(10)
    bench.ok("CONF:LOCK")
    bench.ok("OUTP ON")
    line = seal(">", 0x5A, "ROUT:CLOS (@1,3:5)")
    for bad in (*flipped(line), *dropped(line[:-1])):
        bench.send(bad + b"\n")
        bench.run(3)
        assert bench.closed() <= {0}, bad


def test_a_byte_without_its_stop_bit_spoils_the_line(board: Callable[[Part], Bench]) -> None:
    bench = board(SMALL)
    bench.run(10)
    for at in (0, 9, 20):
        seen = len(bench.lines)
        bench.send_without_stop_bit(seal(">", 0x33, "SYST:ERR:COUN?"), at)
        bench.run(20)
        assert len(bench.lines) == seen, at
    assert bench.ok("SYST:ERR:COUN?") == "3"


def _swapped(line: bytes, at: int, other: int) -> bytes:
    both = bytearray(line)
    both[at], both[other] = both[other], both[at]
    return bytes(both)


SPOILINGS: tuple[Callable[[bytes, int, random.Random], bytes], ...] = (
    lambda _line, _at, dice: dice.randbytes(dice.randrange(120)),
    lambda _line, _at, dice: bytes(dice.choices(b"<>!0123456789ABCDEF :(@),*?ROUTCLSEPN", k=dice.randrange(1, 60))),
    lambda line, at, _dice: line[:at],
    lambda line, at, _dice: line[at:],
    lambda line, at, _dice: line[:at] + line,
    lambda line, at, dice: line[:at] + dice.randbytes(dice.randrange(1, 4)) + line[at:],
    lambda line, at, dice: line[:at] + dice.randbytes(1) + line[at + 1 :],
    lambda line, at, dice: line[:at] + line[at + dice.randrange(1, 4) :],
    lambda line, at, dice: _swapped(line, at, dice.randrange(len(line))),
)


def storm_lines(number: int, seed: int) -> Iterator[bytes]:
    """What the storm program reads: mostly spoiled commands, and enough good ones to keep relays moving."""
    dice = random.Random(seed)
    bodies = [*COMMANDS, *["ROUT:CLOS (@1:16)", "ROUT:OPEN:ALL", "OUTP ON"] * 20]
    for n in range(number):
        body = (
            ("CONF:LOCK", "STOP:CLE", "OUTP ON", "ROUT:CLOS (@2,7)")[n % 50 % 4] if n % 50 < 4 else dice.choice(bodies)
        )
        line = seal(">", dice.randrange(256), body)[:-1]
        if n % 50 >= 4 and dice.random() < 0.98:
            line = dice.choice(SPOILINGS)(line, dice.randrange(len(line)), dice).replace(b"\n", b"\r")
        frame = opened(line)
        valid = frame is not None and frame.kind == ">" and len(frame.body) <= 64
        yield bytes([valid, len(line) & 255, len(line) >> 8]) + line


def _weather(storm: Path, number: int) -> tuple[int, int, int]:
    done = subprocess.run((storm,), input=b"".join(storm_lines(number, 20)), capture_output=True, check=False)
    assert done.returncode == 0, done.stdout.decode() + done.stderr.decode()
    lines, valid, moves = (int(word) for word in done.stdout.split())
    return lines, valid, moves


def test_no_relay_moves_in_20000_bad_lines_under_sanitizers(storm: Path) -> None:
    lines, valid, moves = _weather(storm, 20_000)

    assert lines == 20_000
    assert 1_000 < valid < 4_000
    assert moves > 200


@pytest.mark.thorough
def test_no_relay_moves_in_1000000_bad_lines_under_sanitizers(storm: Path) -> None:
    lines, valid, moves = _weather(storm, 1_150_000)

    assert lines - valid >= 1_000_000
    assert moves > 10_000


def test_a_bad_line_is_counted_and_told_in_the_error_queue(core: Core) -> None:
    core.run(10)
    core.feed(b"garbage\n", 5)
    core.feed(b"x" * 200 + b"\n", 5)

    assert core.ask("SYST:ERR?").endswith('-360,"Communication error"')
    assert core.ask("SYST:ERR?").endswith('-363,"Input buffer overrun"')
    assert core.ask("STAT?").endswith(",2")
