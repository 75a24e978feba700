"""Who answers at the end of a line, and whether it is what the kit needs: told before anything moves."""

from __future__ import annotations

from itertools import pairwise

import msgspec
import pytest
from board_rigs import spec
from core_link import CoreLink
from native_core import Core

from stagecall.errors import RigLostError, UsageError
from stagecall.rigs.board import open_board, prepare
from stagecall.rigs.channels import channels
from stagecall.rigs.exchange import ANSWER_US, TRIES, Exchange
from stagecall.rigs.frames import opened, seal
from stagecall.rigs.greeting import greet
from stagecall.rigs.link import Link


class Altered:
    """A line on which some answers come changed; *answers*: by command, the data that is put instead."""

    def __init__(self, link: Link, answers: dict[str, str]) -> None:
        self._link, self._answers, self.name = link, answers, link.name
        self._asked: dict[int, str] = {}
        self._rest = b""

    def now_us(self) -> int:
        return self._link.now_us()

    def send(self, data: bytes) -> None:
        if (frame := opened(data[:-1])) is not None:
            self._asked[frame.tag] = frame.body
        self._link.send(data)

    def receive(self, wait_us: int) -> bytes:
        *lines, self._rest = (self._rest + self._link.receive(wait_us)).split(b"\n")
        return b"".join(self._line(line) for line in lines)

    def _line(self, line: bytes) -> bytes:
        frame = opened(line)
        asked = "" if frame is None else self._asked.get(frame.tag, "")
        if frame is None or frame.kind != "<" or asked not in self._answers:
            return line + b"\n"
        return seal("<", frame.tag, " ".join([*frame.body.split()[:2], self._answers[asked]]))

    def close(self) -> None:
        self._link.close()


def opens(core: Core, answers: dict[str, str], system: str = "trainer-mockup", kit: str = "bench-16") -> None:
    wanted = spec(system, kit)
    open_board(Altered(CoreLink(core), answers), channels(wanted.kit, wanted.system.control.valve), wanted)


def test_a_board_says_who_it_is(core: Core) -> None:
    identity = greet(Exchange(CoreLink(core)))

    assert (identity.model, identity.relays, identity.inputs, identity.analogs) == ("Core", 16, 16, 4)
    assert (identity.self_test, identity.stopped) == ("0", "NONE")
    assert 0 < identity.bounds.width < 4_000
    assert identity.bounds.blind == 32_000


def test_a_board_that_wakes_late_is_waited_for(core: Core) -> None:
    link = CoreLink(core)
    link.sleep_until(1_800_000)

    assert greet(Exchange(link)).model == "Core"


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"SYST:PROT?": "2"}, "speaks protocol 2; this program speaks 1"),
        ({"SYST:CHAN?": "8,16,4"}, "uses relay 13; this board (Core) has 8"),
        ({"SYST:CHAN?": "16,8,4"}, "uses input 16; this board (Core) has 8"),
        ({"SYST:CHAN?": "16,16,0"}, "uses analog input 3; this board (Core) has 0"),
        ({"*TST?": "1"}, "fails its self-test (1)"),
        ({"INP:BOUN?": "0,2700,2700,300,52000,16000"}, "this board can miss 52 ms"),
        ({"INP:BOUN?": "0,28000,2700,300,32000,16000"}, "stamps its inputs within 28 ms"),
    ],
)
def test_a_board_that_is_not_what_the_kit_needs_is_refused(core: Core, answers: dict[str, str], said: str) -> None:
    with pytest.raises(UsageError) as refused:
        opens(core, answers)

    assert said in str(refused.value)
    assert core.closed() == set()


@pytest.mark.parametrize("query", ["SYST:CHAN?", "INP:BOUN?", "*IDN?"])
def test_nonsense_is_a_lost_rig(core: Core, query: str) -> None:
    with pytest.raises(RigLostError):
        opens(core, {query: "1,x"})


def test_on_equipment_no_relay_lies_in_its_switches(core: Core) -> None:
    wanted = spec()
    live = msgspec.structs.replace(wanted.system, energy=msgspec.structs.replace(wanted.system.energy, fuel="live"))
    wanted = msgspec.structs.replace(wanted, system=live)
    with pytest.raises(UsageError, match="on equipment a switch is opened by hand"):
        open_board(CoreLink(core), channels(wanted.kit, "unknown"), wanted)


def test_a_kit_without_a_board_is_refused_before_the_port_is_touched() -> None:
    wanted = msgspec.structs.replace(spec("trainer-mockup", "full"), where="/dev/no-such-port")
    with pytest.raises(UsageError, match="kit 'full' does not say what hangs on which channel of a board"):
        prepare(wanted)


def test_without_a_port_it_is_asked_for() -> None:
    with pytest.raises(UsageError, match="say where the board is"):
        prepare(spec())


class Silent:
    """A line on which nobody answers."""

    name = "/dev/silent"

    def __init__(self) -> None:
        self.us, self.sent = 0, b""

    def now_us(self) -> int:
        return self.us

    def send(self, data: bytes) -> None:
        self.sent += data

    def receive(self, wait_us: int) -> bytes:
        self.us += wait_us
        return b""

    def close(self) -> None:
        """Nothing is held."""


def test_where_nobody_answers_the_same_line_is_sent_again_and_then_given_up() -> None:
    link = Silent()
    with pytest.raises(RigLostError, match=r"/dev/silent gives no answer: asked 5 times in 0\.5 s"):
        Exchange(link).ask("STAT?")

    assert len(set(link.sent.splitlines())) == 1
    assert link.sent.count(b"\n") == TRIES
    assert link.us == TRIES * ANSWER_US


def test_nobody_at_all_is_no_board() -> None:
    with pytest.raises(UsageError, match="nothing at /dev/silent answers as a relay and sense board does"):
        greet(Exchange(Silent()))


@pytest.mark.parametrize("noise", [b"\xff\x00garbage\n", b"x" * 5_000 + b"\n", b"<01 05 OK 1 0000\n", b"\n\n\n"])
def test_noise_before_an_answer_is_passed_over(core: Core, noise: bytes) -> None:
    class Noisy(CoreLink):
        def receive(self, wait_us: int) -> bytes:
            nonlocal noise
            said, noise = noise, b""
            return said or super().receive(wait_us)

    assert greet(Exchange(Noisy(core))).model == "Core"


def test_every_command_bears_a_new_tag(core: Core) -> None:
    tags: list[int] = []

    class Listening(CoreLink):
        def send(self, data: bytes) -> None:
            tags.append(int(data[1:3], 16))
            super().send(data)

    exchange = Exchange(Listening(core))
    for _ in range(600):
        exchange.done("STAT?")

    assert all(one != other for one, other in pairwise(tags))
    assert set(tags) == set(range(256))
