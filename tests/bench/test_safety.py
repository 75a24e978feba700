"""What the board does by itself when the host, the link, the supply or the firmware fails: every relay opens."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from simulated_board import CYCLES_PER_MS, LARGE, SMALL, Bench, Part

from stagecall.rigs.frames import seal

MakeBoard = Callable[[Part], Bench]
BOTH = pytest.mark.parametrize("part", [SMALL, LARGE], ids=lambda p: p.name)

# The watchdog's own oscillator: the data sheets' curves span 100 to 130 kHz over supply and temperature, the simulator
# takes 128 kHz. 16384 of its periods are the nominal 120 ms.
SLOWEST_WATCHDOG = 128 / 100
CLOSED = {0, 1, 3, 8}


def energised(bench: Bench) -> Bench:
    """A configured board with the master and three relays closed."""
    bench.run(20)
    for body in ("CONF:LOCK", "OUTP ON", "ROUT:CLOS (@1,3,8)"):
        bench.ok(body)
    assert bench.closed() == CLOSED
    return bench


def opened_after_ms(bench: Bench, since: int, wait_ms: float) -> float:
    """Run *wait_ms*; how long after *since* the last output went low. Nothing may be closed at the end."""
    bench.run(wait_ms)
    assert bench.closed() == set()
    return (max(at for at, _, level in bench.moves if not level) - since) / CYCLES_PER_MS


@BOTH
def test_relays_open_within_a_second_of_the_last_valid_line(board: MakeBoard, part: Part) -> None:
    bench = energised(board(part))
    bench.send(seal(">", 0x77, "STAT?"))
    last = bench.sent()

    opened = opened_after_ms(bench, last, 1_200)

    # The crystal, the longest turn and the release of a relay (10 ms) fit into what is left.
    assert 900 < opened <= 980


@BOTH
@pytest.mark.parametrize(
    "line", [b"\n", b"STAT?\n", seal(">", 1, "STAT?").lower(), seal("<", 1, "STAT?"), b"\x00" * 50]
)
def test_lines_that_are_not_valid_do_not_keep_relays(board: MakeBoard, part: Part, line: bytes) -> None:
    bench = energised(board(part))
    last = bench.sent()
    for _ in range(12):
        bench.send(line)
        bench.run(100)

    assert opened_after_ms(bench, last, 1) <= 980


@BOTH
def test_a_valid_line_every_second_but_a_little_keeps_them(board: MakeBoard, part: Part) -> None:
    bench = energised(board(part))
    for _ in range(5):
        bench.run(900)
        bench.ok("*OPC?")

    assert bench.closed() == CLOSED


@BOTH
@pytest.mark.parametrize("interrupts", ["on", "off"])
@pytest.mark.parametrize("function", ["sc_turn", "sc_inputs_settle"])
def test_a_hung_firmware_is_reset_within_300_ms(board: MakeBoard, part: Part, interrupts: str, function: str) -> None:
    """The function turns into an endless loop: ``rjmp .-2``, with ``cli`` before it where interrupts go too."""
    bench = energised(board(part))
    bench.spoil(function, (b"\xf8\x94" if interrupts == "off" else b"") + b"\xff\xcf")
    hung, resets = bench.cycle, bench.resets()

    opened = opened_after_ms(bench, hung, 300)

    assert bench.resets() > resets
    assert opened * SLOWEST_WATCHDOG < 300


@BOTH
@pytest.mark.parametrize("vector", ["tick", "clock"])
def test_a_loop_without_tick_or_clock_is_reset_within_300_ms(board: MakeBoard, part: Part, vector: str) -> None:
    """The loop runs, but the timer's control register has been cleared."""
    bench = energised(board(part))
    bench.stop_timer(0 if vector == "tick" else 1)
    stopped, resets = bench.cycle, bench.resets()

    opened = opened_after_ms(bench, stopped, 300)

    assert bench.resets() > resets
    assert opened * SLOWEST_WATCHDOG < 300


@BOTH
@pytest.mark.parametrize(("flags", "cause", "stop"), [
    (1, "0", "NONE"), (5, "0", "NONE"), (2, "1", "NONE"), (4, "2", "BROWNOUT"), (8, "3", "WATCHDOG"),
])  # fmt: skip
def test_every_reset_opens_all_and_leaves_the_board_unconfigured(
    board: MakeBoard, part: Part, flags: int, cause: str, stop: str
) -> None:
    """Power, power with brown-out flag, reset pin, brown-out, watchdog."""
    bench = energised(board(part))
    at = bench.cycle
    bench.reset(flags)

    assert opened_after_ms(bench, at, 20) == 0
    boot = bench.events()[-1] if stop == "NONE" else bench.events()[-2]
    assert [boot[0], *boot[2:]] == ["0", "BOOT", cause]
    assert bench.ok("STOP?") == stop
    assert "not configured" in bench.ask("CONF:LOCK?") or bench.ok("CONF:LOCK?") == "0"
    refusal = bench.ask("ROUT:CLOS (@1)")
    assert refusal.endswith(';not configured"' if stop == "NONE" else ';stopped"')
    assert bench.closed() == set()


@BOTH
def test_a_watchdog_reset_says_so_and_holds_the_stop(board: MakeBoard, part: Part) -> None:
    bench = energised(board(part))
    bench.stop_timer(0)
    bench.run(300)
    assert [fields[2:] for fields in bench.events()[-2:]] == [["BOOT", "3"], ["STOP", "WATCHDOG"]]

    bench.ok("CONF:LOCK")
    assert "stopped" in bench.ask("ROUT:CLOS (@1)")
    bench.ok("STOP:CLE")
    bench.ok("ROUT:CLOS (@1)")
    assert bench.closed() == {1}


@BOTH
def test_no_output_moves_before_it_is_told_to(board: MakeBoard, part: Part) -> None:
    bench = board(part)
    bench.run(2_000)

    assert bench.moves == []


@BOTH
def test_the_time_of_ok_is_when_the_relay_moved(board: MakeBoard, part: Part) -> None:
    bench = energised(board(part))
    for body in ("ROUT:OPEN (@3)", "ROUT:CLOS (@3)", "OUTP OFF", "OUTP ON", "ROUT:OPEN:ALL", "STOP"):
        before = len(bench.moves)
        told = int(bench.ask(body).split()[1])
        moved = [bench.device_us(at) for at, _, _ in bench.moves[before:]]
        assert moved
        assert 0 <= told - min(moved) <= 300, body


@BOTH
def test_a_minimum_open_time_holds_over_a_reset(board: MakeBoard, part: Part) -> None:
    """After a reset nobody knows how long the compressor has been off: it counts as just stopped."""
    bench = board(part)
    bench.run(20)
    for body in ("CONF:MIN (@1),300", "CONF:LOCK", "OUTP ON"):
        bench.ok(body)
    bench.run(300)
    bench.ok("ROUT:CLOS (@1)")
    bench.reset(2)
    bench.run(20)
    for body in ("CONF:MIN (@1),300", "CONF:LOCK", "OUTP ON"):
        bench.ok(body)

    assert "minimum open" in bench.ask("ROUT:CLOS (@1)")
    bench.run(300)
    bench.ok("ROUT:CLOS (@1)")


@BOTH
def test_the_serial_number_outlives_a_reset(board: MakeBoard, part: Part) -> None:
    bench = board(part)
    bench.run(20)
    bench.ok("SYST:SER 123456")
    bench.reset(1)
    bench.run(20)

    assert bench.ok("SYST:SER?") == "123456"


def test_a_long_wait_keeps_the_relays_and_the_clock(board: MakeBoard) -> None:
    """A minute of polls with inputs changing: nothing opens, no number is missing, the clock is the crystal's."""
    bench = energised(board(SMALL))
    for n in range(40):
        bench.switch(n % 8, bench.cycle + (1 + n) * 1_400 * CYCLES_PER_MS, closed=n % 16 < 8)
    bench.keep_alive(60_000)
    told, asked = int(bench.ok("SYST:TIME?")), bench.cycle

    assert bench.closed() == CLOSED
    assert [int(fields[0]) for fields in bench.events()] == list(range(len(bench.events())))
    assert 0 <= bench.device_us(asked) - told < 5_000
