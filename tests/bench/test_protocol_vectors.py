"""The specification's vectors against the C core, the AVR binary and the Python reference."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from native_core import Core
from simulated_board import LARGE, SMALL, Bench, Part
from vectors import VECTORS, hold, raw

from stagecall.rigs.frames import Frame, crc16, opened, seal


class CoreBoard(Core):
    """A core that answers as a partner of dialogues."""

    set_input = Core.live
    event_bodies = Core.events


class AvrBoard:
    """A simulated board that answers as a partner of dialogues."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.ask, self.run, self.closed = bench.ask, bench.run, bench.closed

    def set_input(self, which: int, *, live: bool) -> None:
        self.bench.switch(which - 1, self.bench.cycle, closed=live)

    def event_bodies(self) -> list[str]:
        return [",".join(fields) for fields in self.bench.events()]


@pytest.mark.parametrize("case", VECTORS["crc"], ids=lambda c: c["text"])
def test_both_codecs_agree_on_the_crc(core: Core, case: dict[str, Any]) -> None:
    assert crc16(raw(case["text"])) == core.crc16(raw(case["text"])) == case["crc"]


@pytest.mark.parametrize("case", VECTORS["good"], ids=lambda c: c["line"][:20])
def test_both_codecs_read_a_good_frame(core: Core, case: dict[str, Any]) -> None:
    expected = Frame(case["kind"], case["tag"], case["body"])

    assert opened(raw(case["line"])) == expected
    assert core.opened(raw(case["line"])) == expected
    assert seal(case["kind"], case["tag"], case["body"]) == raw(case["line"]) + b"\n"


@pytest.mark.parametrize("case", VECTORS["refused"], ids=lambda c: c["why"])
def test_both_codecs_refuse_a_bad_line(core: Core, case: dict[str, Any]) -> None:
    assert opened(raw(case["line"])) is None
    assert core.opened(raw(case["line"])) is None


@pytest.mark.parametrize("dialogue", VECTORS["dialogues"], ids=lambda d: d["name"])
def test_the_core_holds_the_dialogue(core: Core, dialogue: dict[str, Any]) -> None:
    core.__class__ = CoreBoard
    core.run(10)
    hold(dialogue, core, "Core")


@pytest.mark.parametrize("dialogue", VECTORS["dialogues"], ids=lambda d: d["name"])
def test_the_core_holds_the_dialogue_while_32_bits_of_microseconds_run_over(
    core_from: Callable[[int], Core], dialogue: dict[str, Any]
) -> None:
    """After 71 minutes; the time told goes on."""
    core = core_from(2**32 - 300_000)
    core.__class__ = CoreBoard
    core.run(10)
    hold(dialogue, core, "Core")
    core.run(400)

    assert int(core.ask("SYST:TIME?").split()[2]) > 2**32


@pytest.mark.parametrize("dialogue", VECTORS["dialogues"], ids=lambda d: d["name"])
def test_the_avr_binary_holds_the_dialogue(board: Callable[[Part], Bench], dialogue: dict[str, Any]) -> None:
    bench = board(LARGE)
    bench.run(10)
    hold(dialogue, AvrBoard(bench), "Relay and sense 16x16")


@pytest.mark.parametrize("body", VECTORS["commands"])
def test_every_command_is_accepted(core: Core, body: str) -> None:
    core.run(10)
    if body.startswith(("ROUT", "OUTP")):
        core.ask("CONF:LOCK")

    assert core.ask(body).startswith("OK "), body


def test_a_command_of_more_than_64_bytes_is_refused(core: Core) -> None:
    core.run(10)
    core.feed(seal(">", 1, "X" * 64), 5)
    assert core.lines[-1].body.startswith("ER")
    assert core.refused() == 0

    core.feed(seal(">", 2, "X" * 65), 5)
    assert core.refused() == 1


def test_a_repeated_frame_is_answered_from_memory_and_not_carried_out_again(core: Core) -> None:
    core.ask("NONSENSE")
    core.feed(seal(">", 0x50, "SYST:ERR?"), 5)
    first = core.lines[-1]
    core.feed(seal(">", 0x50, "SYST:ERR?"), 5)

    assert '-113,"Undefined header"' in first.body
    assert core.lines[-1] == first
    core.feed(seal(">", 0x51, "SYST:ERR?"), 5)
    assert '0,"No error"' in core.lines[-1].body


def test_a_repeated_frame_is_carried_out_again_after_a_second(core: Core) -> None:
    core.feed(seal(">", 0x50, "SYST:TIME?"), 5)
    first = core.lines[-1]
    core.run(1000)
    core.feed(seal(">", 0x50, "SYST:TIME?"), 5)

    assert core.lines[-1] != first


def test_replies_and_events_are_no_commands(core: Core) -> None:
    core.feed(seal("<", 1, "CONF:LOCK") + seal("!", 2, "CONF:LOCK"), 5)

    assert core.refused() == 2
    assert core.ask("CONF:LOCK?").endswith(" 0")


def test_a_board_without_analog_inputs_says_so(board: Callable[[Part], Bench]) -> None:
    bench = board(SMALL)
    bench.run(10)

    assert bench.ask("MEAS:VOLT? (@1)").endswith('-241,"Hardware missing"')
    assert bench.ask("ROUT:CLOS (@9)").endswith('-222,"Data out of range"')
