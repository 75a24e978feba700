"""The PC port behind its pseudo-terminal, in real time: order and outcome only, no times."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import serial
from builds import FIRMWARE, compiled

from stagecall.rigs.frames import Frame, opened, seal

PATIENCE_S = 20  # only a broken board is waited for so long


class Host:
    """A simple host: asks, and keeps events."""

    def __init__(self, program: Path, *arguments: str) -> None:
        command = (str(program), *arguments)
        self.board = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        assert self.board.stdout is not None
        self.path = self.board.stdout.readline().strip()
        self.port = serial.Serial(self.path, 250_000, timeout=PATIENCE_S)
        self.tag = 0
        self.events: list[list[str]] = []
        self.bad = 0

    def close(self) -> None:
        self.port.close()
        if self.board.stdin:
            self.board.stdin.close()
        self.board.wait(PATIENCE_S)
        if self.board.stdout:
            self.board.stdout.close()

    def world(self, line: str) -> None:
        assert self.board.stdin is not None
        self.board.stdin.write(line + "\n")
        self.board.stdin.flush()

    def frame(self) -> Frame | None:
        """The next frame; None for a damaged line or none at all."""
        line = self.port.readline()
        frame = opened(line[:-1])
        if frame is None:
            self.bad += 1
        elif frame.kind == "!":
            self.events.append(frame.body.split(","))
        return frame

    def ask(self, body: str) -> str | None:
        """The reply's body; None where none came."""
        self.tag = (self.tag + 1) % 256
        self.port.write(seal(">", self.tag, body))
        for _ in range(100):
            frame = self.frame()
            if frame is None and self.port.timeout < PATIENCE_S:
                return None
            if frame is not None and frame.kind == "<" and frame.tag == self.tag:
                return frame.body
        return None

    def until(self, *what: str) -> None:
        """Poll until an event ends with these fields."""
        for _ in range(2_000):
            if any(tuple(fields[2:]) == what for fields in self.events):
                return
            self.ask("STAT?")
        raise AssertionError(f"{what} never came: {self.events}")

    def energise(self) -> None:
        for body in ("CONF:READ (@1),(@1),STOP", "CONF:LOCK", "OUTP ON", "ROUT:CLOS (@1)"):
            reply = self.ask(body)
            assert reply is not None
            assert reply.startswith("OK"), (body, reply)


@pytest.fixture(scope="session")
def program(once: Callable[..., Path], core_build_possible: None) -> Path:  # noqa: ARG001 - skips
    return once("pc", lambda out: compiled("make", "pc", f"OUT={out}", cwd=FIRMWARE)) / "board-pc"


@pytest.fixture
def host(program: Path) -> Iterator[Callable[..., Host]]:
    made: list[Host] = []

    def start(*arguments: str) -> Host:
        made.append(Host(program, *arguments))
        return made[-1]

    yield start
    for one in made:
        one.close()


def test_a_call_arrives_on_its_wire_and_goes_again(host: Callable[..., Host]) -> None:
    one = host("--wire", "1:1", "--serial", "7")
    assert "Relay and sense on PC,7," in (one.ask("*IDN?") or "")
    one.energise()
    one.until("INP", "1", "1")
    one.ask("ROUT:OPEN (@1)")
    one.until("INP", "1", "0")


def test_inputs_follow_what_the_world_is_told(host: Callable[..., Host]) -> None:
    one = host("--live", "3")  # opening the port may have thrown away what came before: ask
    while not (one.ask("INP? (@3)") or "").endswith(" 1"):
        pass
    one.world("dead 3")
    one.until("INP", "3", "0")
    one.world("live 5")
    one.until("INP", "5", "1")
    one.world("volts 2 2500")
    while "2.500" not in (one.ask("MEAS:VOLT? (@2)") or ""):
        pass


def test_a_stuck_relay_stops_everything(host: Callable[..., Host]) -> None:
    one = host("--wire", "1:1", "--fault", "stuck-relay=1")
    one.energise()
    one.until("INP", "1", "1")
    one.ask("ROUT:OPEN (@1)")
    one.until("READ", "1", "1")
    one.until("STOP", "READBACK")


def test_a_relay_that_never_conducts_is_reported(host: Callable[..., Host]) -> None:
    one = host("--wire", "1:1", "--fault", "open-relay=1")
    one.energise()
    one.until("READ", "1", "0")


def test_lost_events_show_as_a_gap(host: Callable[..., Host]) -> None:
    one = host("--fault", "lost-events=1", "--live", "1")
    state = (one.ask("STAT?") or "").split(",")
    while int(state[6]) < 2:
        state = (one.ask("STAT?") or "").split(",")

    assert one.events == []


def test_a_silent_board_hears_and_does_not_answer(host: Callable[..., Host]) -> None:
    one = host()
    one.energise()
    one.world("fault silent=0.001")
    one.port.timeout = 0.3
    replies = [one.ask("STAT?") for _ in range(3)]

    assert replies[-1] is None


@pytest.mark.parametrize(("fault", "cause", "stop"), [("reset", "2", "BROWNOUT"), ("hang", "3", "WATCHDOG")])
def test_a_reset_board_says_so_and_has_lost_its_configuration(
    host: Callable[..., Host], fault: str, cause: str, stop: str
) -> None:
    one = host()
    one.energise()
    one.events.clear()
    one.port.timeout = 0.5  # a hung board leaves its questions unanswered
    one.world(f"fault {fault}=0.001")
    one.until("BOOT", cause)
    one.until("STOP", stop)
    one.port.timeout = PATIENCE_S

    assert (one.ask("CONF:LOCK?") or "").endswith(" 0")
    assert "stopped" in (one.ask("ROUT:CLOS (@1)") or "")


def test_damaged_bytes_never_make_a_false_frame(host: Callable[..., Host]) -> None:
    one = host("--fault", "flip-bits=0.02", "--fault", "drop-bytes=0.01", "--seed", "5")
    one.port.timeout = 0.2
    replies = [one.ask("SYST:PROT?") for _ in range(30)]
    good = [reply for reply in replies if reply is not None]

    assert one.bad > 0
    assert all(reply.startswith("OK ") and reply.endswith(" 1") for reply in good)


def test_unplugging_ends_the_port(host: Callable[..., Host]) -> None:
    one = host()
    one.energise()
    one.world("fault unplug=0.001")

    assert one.board.wait(PATIENCE_S) == 0


def test_a_host_that_comes_back_finds_everything_open(host: Callable[..., Host]) -> None:
    one = host()
    one.energise()
    one.port.close()
    one.port = serial.Serial(one.path, 250_000, timeout=PATIENCE_S)
    while "SILENT" not in (one.ask("STOP?") or ""):
        one.port.timeout = 1.1  # say nothing for longer than the board waits
        one.port.readline()
        one.port.timeout = PATIENCE_S

    assert (one.ask("ROUT:CLOS? (@1)") or "").endswith(" 0")


@pytest.mark.parametrize(
    "wrong", [("--fault", "nonsense=1"), ("--fault", "drop-bytes=2"), ("--wire", "17:1"), ("--x",)]
)
def test_what_is_not_understood_is_refused(program: Path, wrong: tuple[str, ...]) -> None:
    done = subprocess.run((str(program), *wrong), capture_output=True, text=True, check=False)

    assert done.returncode == 2
    assert "not understood" in done.stderr
