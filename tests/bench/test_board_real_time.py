"""Runs of the program itself against a board on this computer, in real time: order and outcome only, no times."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from board_rigs import KIT, SYSTEM, spec
from board_runs import SHORT, written
from builds import FIRMWARE, compiled

from stagecall.documents.library import library_folder
from stagecall.model.event import AnyLine, Call, Header
from stagecall.record import read
from stagecall.rigs.board import SerialLink
from stagecall.rigs.clock import SystemClock
from stagecall.rigs.exchange import Exchange
from stagecall.rigs.greeting import greet

PATIENCE_S = 60
"""Only what is broken is waited for so long."""
LONG = SHORT.replace("100 ms", "10 min")


def blind_to_call_wires() -> Path:
    """The kit without its readback: call wires that are seen would be watched for a minute before each run."""
    text = (library_folder() / "sim" / "kits" / f"{KIT}.yaml").read_text("utf-8")
    text = re.sub(r"wire_(?!R\b)\w+: \d+, ", "", text)
    text = re.sub(r"(?m)^  (wire_(?!R\b)\w+|readback): .*\n", "", text)
    path = Path(tempfile.mkdtemp()) / f"{KIT}.yaml"
    path.write_text(text, "utf-8")
    return path


PROGRAM = [sys.executable, "-m", "stagecall", "run", "--system", SYSTEM, "--kit", str(blind_to_call_wires())]


@pytest.fixture(scope="session")
def program(once: Callable[..., Path], core_build_possible: None) -> Path:  # noqa: ARG001 - skips
    return once("pc", lambda out: compiled("make", "pc", f"OUT={out}", cwd=FIRMWARE)) / "board-pc"


class Board:
    """The board on this computer, its call wires led back to its inputs."""

    def __init__(self, program: Path, *arguments: str) -> None:
        board = spec().kit.board
        assert board is not None
        wires = [f"--wire={relay}:{board.inputs[f'wire_{call}']}" for call, relay in board.calls.items()]
        options = [part for wire in wires for part in wire.split("=")]
        command = [str(program), "--live", str(board.inputs["wire_R"]), *options, *arguments]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.port = self.process.stdout.readline().strip()

    def world(self, line: str) -> None:
        assert self.process.stdin is not None
        self.process.stdin.write(line + "\n")
        self.process.stdin.flush()

    def stopped(self) -> str:
        """Why it holds everything open, asked by another host."""
        link = SerialLink(self.port, SystemClock())
        try:
            return greet(Exchange(link)).stopped
        finally:
            link.close()

    def close(self) -> None:
        if self.process.stdin:
            self.process.stdin.close()
        self.process.wait(PATIENCE_S)
        if self.process.stdout:
            self.process.stdout.close()


@pytest.fixture
def board(program: Path) -> Iterator[Callable[..., Board]]:
    made: list[Board] = []

    def start(*arguments: str) -> Board:
        made.append(Board(program, *arguments))
        return made[-1]

    yield start
    for one in made:
        one.close()


class Run:
    """The program, running a sequence on a board."""

    def __init__(self, port: str, folder: Path, *what: str) -> None:
        self.log = folder / f"{len(list(folder.glob('*.run.jsonl')))}.run.jsonl"
        command = [*PROGRAM, "--rig", f"board:{port}", "--log", str(self.log), *what]
        self.process = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )

    def until_called(self) -> None:
        """Wait until the fan's call stands in the log."""
        until = time.monotonic() + PATIENCE_S
        while not (self.log.exists() and b'"k":"call"' in self.log.read_bytes()):
            assert time.monotonic() < until, self.end()
            assert self.process.poll() is None, self.end()
            time.sleep(0.05)

    def end(self) -> tuple[int, str, str]:
        out, err = self.process.communicate(timeout=PATIENCE_S)
        return self.process.returncode, " ".join(out.split()), err  # a page wraps where it may

    def lines(self) -> list[AnyLine]:
        reading = read(self.log)
        return list(reading.lines)


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Run]]:
    """Starts the program on a port; what still runs at the end is ended."""
    made: list[Run] = []

    def begin(port: str, *what: str | Path) -> Run:
        made.append(Run(port, tmp_path, *(str(one) for one in what)))
        return made[-1]

    yield begin
    for one in made:
        one.process.kill()
        one.process.communicate(timeout=PATIENCE_S)


@pytest.fixture
def short(tmp_path: Path) -> Path:
    return written(tmp_path)


@pytest.fixture
def long(tmp_path: Path) -> Path:
    (tmp_path / "long").mkdir()
    return written(tmp_path / "long", LONG)


def calls(run: Run) -> list[str]:
    return [f"{line.terminal} {line.state}" for line in run.lines() if isinstance(line, Call)]


def test_a_run_comes_to_its_end(board: Callable[..., Board], start: Callable[..., Run], short: Path) -> None:
    one = board("--serial", "7")
    run = start(one.port, short)
    code, out, _ = run.end()

    assert out.startswith("TESTED ON: BENCH")
    assert code in (0, 3)  # nothing fails; what this bench cannot see is not verified
    assert calls(run) == ["G on", "G off"]
    assert one.stopped() == "NONE"


def header(run: Run) -> Header:
    reading = read(run.log)
    list(reading.lines)
    return reading.header


def test_unplugged_it_ends_with_4_and_says_so_and_a_linked_run_can_follow(
    board: Callable[..., Board], start: Callable[..., Run], long: Path
) -> None:
    one = board()
    run = start(one.port, long)
    run.until_called()
    one.world("fault unplug=0.001")
    code, out, err = run.end()

    assert code == 4, err
    assert "Rig lost: " in out
    assert calls(run)[0] == "G on"

    again = board()  # plugged in anew, under another name as it may be
    follows = start(again.port, "--failed-in", run.log)
    follows.until_called()
    follows.process.send_signal(signal.SIGINT)
    assert follows.end()[0] == 130
    assert (header(follows).follows, header(follows).tested_on) == (header(run).run, "bench")
    assert calls(follows) == ["G on", "G off"]


def test_a_board_that_resets_ends_the_run_with_4(
    board: Callable[..., Board], start: Callable[..., Run], long: Path
) -> None:
    one = board()
    run = start(one.port, long)
    run.until_called()
    one.world("fault reset=0.001")
    code, out, _ = run.end()

    assert code == 4
    assert "the board started anew: its supply sagged" in out
    assert calls(run) == ["G on", "G off"]


def test_killed_the_program_leaves_nothing_on(
    board: Callable[..., Board], start: Callable[..., Run], long: Path
) -> None:
    one = board()
    run = start(one.port, long)
    run.until_called()
    run.process.kill()
    run.process.communicate(timeout=PATIENCE_S)
    time.sleep(1.5)  # any question counts as a host that is alive

    assert one.stopped() == "SILENT"

    assert calls(run) == ["G on"]


def test_a_program_that_stood_still_finds_all_off_and_ends_with_4(
    board: Callable[..., Board], start: Callable[..., Run], long: Path
) -> None:
    one = board()
    run = start(one.port, long)
    run.until_called()
    os.kill(run.process.pid, signal.SIGSTOP)
    time.sleep(2)
    os.kill(run.process.pid, signal.SIGCONT)
    code, out, _ = run.end()

    assert code == 4
    assert "it heard nothing for 0.95 s" in out
    assert calls(run) == ["G on", "G off"]


def test_a_second_program_is_told_that_the_port_is_in_use_and_the_first_goes_on(
    board: Callable[..., Board], start: Callable[..., Run], long: Path, short: Path
) -> None:
    one = board()
    run = start(one.port, long)
    run.until_called()
    code, out, err = start(one.port, short).end()

    assert (code, out) == (2, "")
    assert f"{one.port} is in use by another run on this computer" in err
    assert run.process.poll() is None
    run.process.send_signal(signal.SIGINT)
    assert run.end()[0] == 130
    assert calls(run) == ["G on", "G off"]


@pytest.mark.parametrize(
    ("port", "said"),
    [
        ("/dev/no-such-port", "there is no port /dev/no-such-port"),
        ("/dev/null", "cannot be opened as a serial port"),
        ("", "say where the board is: --rig board:PORT"),
    ],
)
def test_a_port_that_cannot_be_used_is_one_clear_sentence(
    port: str, said: str, start: Callable[..., Run], short: Path, tmp_path: Path
) -> None:
    code, out, err = start(port, short).end()

    assert (code, out) == (2, "")
    assert said in err
    assert err.count("\n") == 1
    assert not list(tmp_path.glob("*.run.jsonl"))


def test_what_does_not_answer_as_a_board_is_said_to_be_none(start: Callable[..., Run], short: Path) -> None:
    host, device = os.openpty()
    try:
        code, _, err = start(os.ttyname(device), short).end()
    finally:
        os.close(host)
        os.close(device)

    assert code == 2
    assert "answers as a relay and sense board does" in err
