"""AC inputs of the AVR binary: stamps within their declared bounds, and no edge that was not there."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import pairwise

import pytest
from simulated_board import CYCLES_PER_MS, CYCLES_PER_US, LARGE, SMALL, Bench, Part

from stagecall.rigs.frames import seal

MakeBoard = Callable[[Part], Bench]
BOTH = pytest.mark.parametrize("part", [SMALL, LARGE], ids=lambda p: p.name)


class Watched:
    """A board whose inputs are switched by plan, and its reports beside what really happened."""

    def __init__(self, bench: Bench, seed: int) -> None:
        self.bench, self.dice = bench, random.Random(seed)
        self.channels = range(len(bench.part.inputs))
        self.truth: list[list[tuple[int, bool]]] = [[] for _ in self.channels]
        bench.run(20)

    def mains(self, **source: float) -> None:
        for i in self.channels:
            self.bench.mains(i, **{"phase": self.dice.random(), **source})

    def toggle(self, pairs: int, *, on_ms: float, off_ms: float) -> None:
        """Every input on and off, *pairs* times, each for at least the times given and up to 20 ms more."""
        for i in self.channels:
            at = self.bench.cycle + self.dice.randrange(20 * CYCLES_PER_MS)
            for _ in range(pairs):
                for closed, ms in ((True, on_ms), (False, off_ms)):
                    self.bench.switch(i, at, closed=closed)
                    self.truth[i].append((at, closed))
                    at += round((ms + self.dice.random() * 20) * CYCLES_PER_MS)

    def run(self) -> None:
        last = max(at for edges in self.truth for at, _ in edges)
        while self.bench.cycle < last + 60 * CYCLES_PER_MS:
            self.bench.run(20)

    def reported(self, channel: int) -> list[tuple[float, bool]]:
        """(us of the board's clock, live) of one input."""
        rows = [fields for fields in self.bench.events() if fields[2] == "INP" and int(fields[3]) == channel + 1]
        return [(float(at), state == "1") for _, at, _, _, state in rows]

    def errors(self) -> tuple[list[float], list[float]]:
        """Stamp less truth in us, of every "live" and of every "dead"; each edge reported once and nothing else."""
        on, off = [], []
        for i in self.channels:
            reported = self.reported(i)
            assert [live for _, live in reported] == [live for _, live in self.truth[i]], f"input {i + 1}"
            for (stamp, live), (at, _) in zip(reported, self.truth[i], strict=True):
                (on if live else off).append(stamp - self.bench.device_us(at))
        return on, off


def declared(bench: Bench) -> tuple[int, ...]:
    return tuple(int(n) for n in bench.ok("INP:BOUN?").split(","))


def numbers_without_gap(bench: Bench) -> bool:
    return all(int(b[0]) == int(a[0]) + 1 for a, b in pairwise(bench.events()))


def _within_bounds(board: MakeBoard, part: Part, frequency: float, pairs: int) -> None:
    watched = Watched(board(part), seed=int(frequency))
    watched.mains(frequency=frequency)
    watched.toggle(pairs, on_ms=25, off_ms=25)
    watched.run()
    on_early, on_late, off_early, off_late, _, _ = declared(watched.bench)
    on, off = watched.errors()

    assert len(on) == len(off) == pairs * len(part.inputs)
    assert min(on) >= -on_early - 0.5
    assert max(on) <= on_late
    assert min(off) >= -off_early
    assert max(off) <= off_late
    assert numbers_without_gap(watched.bench)
    # At 24 V and a threshold of 10 V the dead time at a zero crossing, and so the error, is smaller still.
    dead = 1_930 if frequency == 50 else 1_610
    assert max(on) <= dead + 30
    assert min(off) >= -dead / 2
    assert max(off) <= dead / 2 + 80
    # Unbiased: as often early as late, and exact where the voltage went amid a half-wave.
    assert abs(sorted(off)[len(off) // 2]) <= 200


@pytest.mark.parametrize("frequency", [50, 60])
@BOTH
def test_edges_are_stamped_within_the_declared_bounds(board: MakeBoard, part: Part, frequency: float) -> None:
    _within_bounds(board, part, frequency, 240 // len(part.inputs))


@pytest.mark.thorough
@pytest.mark.parametrize("frequency", [50, 60])
@BOTH
def test_10000_edges_are_stamped_within_the_declared_bounds(board: MakeBoard, part: Part, frequency: float) -> None:
    _within_bounds(board, part, frequency, 5_200 // len(part.inputs))


def stamp_errors(watched: Watched) -> list[float]:
    """Microseconds from a pin's edge to its stamp: the first edge of every "live" and the last of every "dead"."""
    edges = watched.bench.pin_edges()
    errors = []
    for i in watched.channels:
        own = [(watched.bench.device_us(at), bool(level)) for at, which, level in edges if which == i]
        for stamp, live in watched.reported(i):
            errors.append(min((stamp - at for at, level in own if level == live), key=abs))
    return errors


@BOTH
def test_a_stamp_is_at_most_28_us_from_the_pin_while_the_wire_is_busy(board: MakeBoard, part: Part) -> None:
    """Inputs of one phase, so that edges coincide, and a host that asks without a pause.

    The voltage goes near a half-wave's peak, where "dead" is stamped with the pin's own edge.
    """
    watched = Watched(board(part), seed=3)
    half = 16e6 / 120
    for i in watched.channels:
        watched.bench.mains(i, phase=0.25 + i * 1e-4)
        peak = round(20 * half - i * 2e-4 * half)
        for n in range(6):
            edges = ((peak + round(n * 10 * half) + watched.dice.randrange(10_000), True),
                     (peak + round((n * 10 + 4) * half), False))  # fmt: skip
            for at, closed in edges:
                watched.bench.switch(i, at, closed=closed)
                watched.truth[i].append((at, closed))
    watched.bench.log_pins()
    last = max(at for edges in watched.truth for at, _ in edges)
    while watched.bench.cycle < last + 60 * CYCLES_PER_MS:
        watched.bench.ok("STAT?")
    errors = stamp_errors(watched)

    assert len(errors) == 12 * len(part.inputs)
    # Whole microseconds, and an edge between the reading of timer and pins has the timer's earlier moment.
    assert min(errors) > -1.6
    assert max(errors) <= 28
    assert sorted(errors)[len(errors) // 2] <= 4


@BOTH
def test_an_edge_at_the_moment_the_timer_runs_over_is_stamped_rightly(board: MakeBoard, part: Part) -> None:
    """Timer 1 wraps every 32.768 ms; edges are put from 60 cycles before to 120 cycles after it."""
    bench = board(part)
    bench.mains(0, volts=10_000, on_delay=0, off_delay=0)  # so steep that the switch alone decides
    bench.run(20)
    wrap, start = 32_768 * CYCLES_PER_US, bench.cycle - round(bench.device_us(bench.cycle) * CYCLES_PER_US)
    truth = []
    for n, early in enumerate(range(-60, 120, 2)):
        at = start + (3 + n) * wrap + early
        bench.switch(0, at, closed=n % 2 == 0)
        truth.append(at)
    while bench.cycle < truth[-1] + 40 * CYCLES_PER_MS:
        bench.run(100)
    errors = [int(fields[1]) - bench.device_us(at) for fields, at in zip(bench.events()[1:], truth, strict=True)]

    assert min(errors) > -15
    assert max(errors) < 15


@pytest.mark.parametrize("frequency", [50, 60])
def test_bouncing_contacts_make_one_edge_and_do_not_move_it(board: MakeBoard, frequency: float) -> None:
    """Closing bounces for 5 ms, opening for 3 ms, with pauses of up to 1.2 ms."""
    watched = Watched(board(SMALL), seed=4)
    watched.mains(frequency=frequency)
    dice, bench = watched.dice, watched.bench
    opened_last: list[list[int]] = [[] for _ in watched.channels]
    for i in watched.channels:
        at = bench.cycle + 5 * CYCLES_PER_MS
        for _ in range(12):
            for closed, bounce_ms in ((True, 5), (False, 3)):
                watched.truth[i].append((at, closed))
                end, level = at + bounce_ms * CYCLES_PER_MS, closed
                while at < end:
                    bench.switch(i, at, closed=level)
                    last, level = at, not level
                    at += dice.randrange(50 * CYCLES_PER_US, 1_200 * CYCLES_PER_US)
                bench.switch(i, at, closed=closed)
                opened_last[i].append(at if level == closed else last)
                at += (40 + dice.randrange(20)) * CYCLES_PER_MS
    watched.run()
    on, _ = watched.errors()
    off = [
        stamp - bench.device_us(at)
        for i in watched.channels
        for (stamp, live), at in zip(watched.reported(i), opened_last[i], strict=True)
        if not live
    ]

    # The first touch may fall into the dead time at a zero crossing, and the contact be open again after it.
    assert min(on) >= -0.5
    assert max(on) <= 2_000 + 1_200 + 1_200
    assert min(off) >= -2_000 - 1_200
    assert max(off) <= 1_050


@pytest.mark.parametrize("frequency", [50, 60])
def test_noise_makes_no_edge(board: MakeBoard, frequency: float) -> None:
    """Transients of up to 100 us, alone and in bursts, on live and on dead inputs."""
    watched = Watched(board(SMALL), seed=5)
    watched.mains(frequency=frequency)
    dice, bench = watched.dice, watched.bench
    live = range(4)
    for i in live:
        bench.switch(i, bench.cycle, closed=True)
    for i in watched.channels:
        at = bench.cycle + 60 * CYCLES_PER_MS
        for _ in range(40):
            for _ in range(dice.choice((1, 1, 2))):
                us = dice.randrange(2, 100)
                bench.noise(i, at, us)
                at += (us + dice.randrange(200, 900)) * CYCLES_PER_US
            at += dice.randrange(4, 30) * CYCLES_PER_MS
    bench.run(1_000)

    reported = [fields[3:] for fields in bench.events() if fields[2] == "INP"]
    assert sorted(reported) == [[str(i + 1), "1"] for i in live]


def test_noise_after_the_voltage_went_does_not_move_the_stamp(board: MakeBoard) -> None:
    """A coil that drops out spikes the line some milliseconds after the last half-wave."""
    watched = Watched(board(SMALL), seed=6)
    watched.mains(frequency=60)
    watched.toggle(12, on_ms=60, off_ms=60)
    for i in watched.channels:
        for at, closed in watched.truth[i]:
            if not closed:
                watched.bench.noise(i, at + watched.dice.randrange(6, 14) * CYCLES_PER_MS, 80)
    watched.run()
    _, off = watched.errors()

    assert min(off) >= -800
    assert max(off) <= 900


@pytest.mark.parametrize("off_delay", [20e-6, 150e-6, 1e-3, 2.5e-3])
def test_slow_turn_off_of_the_coupler_makes_no_false_edge(board: MakeBoard, off_delay: float) -> None:
    """Up to 2.5 ms, where the pulses run into each other."""
    watched = Watched(board(SMALL), seed=7)
    watched.mains(frequency=60, off_delay=off_delay)
    watched.toggle(6, on_ms=120, off_ms=60)
    watched.run()
    on, off = watched.errors()

    assert max(on) <= 1_700
    assert max(off) <= max(800 + off_delay * 1e6 / 2, off_delay * 1e6) + 60


@pytest.mark.parametrize(("frequency", "volts"), [(50, 20), (60, 20), (50, 28), (60, 28), (50, 14), (60, 14)])
def test_low_and_high_line_are_live_all_the_time(board: MakeBoard, frequency: float, volts: float) -> None:
    watched = Watched(board(SMALL), seed=8)
    watched.mains(frequency=frequency, volts=volts, threshold=11)
    watched.toggle(4, on_ms=300, off_ms=60)
    watched.run()

    on, off = watched.errors()

    assert len(on) == len(off) == 4 * len(watched.channels)


@pytest.mark.parametrize("frequency", [50, 60])
def test_a_sag_just_before_the_voltage_goes_keeps_the_stamp_within_its_bounds(
    board: MakeBoard, frequency: float
) -> None:
    """From 24 to 20 V, or back up, within the last half-waves: the last one is not quite like those before."""
    watched = Watched(board(SMALL), seed=15)
    bench, dice = watched.bench, watched.dice
    for n in range(24):
        volts = (24, 20) if n % 2 else (20, 24)
        phases = [dice.random() for _ in watched.channels]
        for i in watched.channels:
            bench.mains(i, frequency=frequency, volts=volts[0], threshold=11, phase=phases[i])
            for ms, closed in ((1, True), (101 + dice.random() * 20, False)):
                at = bench.cycle + round(ms * CYCLES_PER_MS)
                bench.switch(i, at, closed=closed)
                watched.truth[i].append((at, closed))
        bench.run(100)
        for i in watched.channels:
            bench.mains(i, frequency=frequency, volts=volts[1], threshold=11, phase=phases[i])
        bench.run(80)
    _, _, off_early, off_late, _, _ = declared(bench)
    _, off = watched.errors()

    assert min(off) >= -off_early
    assert max(off) <= off_late


def test_a_voltage_that_does_not_reach_the_threshold_is_dead(board: MakeBoard) -> None:
    watched = Watched(board(SMALL), seed=9)
    watched.mains(volts=6.5)
    watched.toggle(2, on_ms=200, off_ms=60)
    watched.run()

    assert [fields[2] for fields in watched.bench.events()] == ["BOOT"]


@pytest.mark.parametrize("frequency", [50, 60])
def test_two_lost_half_waves_are_seen_and_one_is_not(board: MakeBoard, frequency: float) -> None:
    """The blind time: one missing half-wave is also what a half-wave signal looks like."""
    watched = Watched(board(SMALL), seed=10)
    watched.mains(frequency=frequency, phase=0)
    bench, period = watched.bench, 16e6 / frequency
    start = (bench.cycle // round(period) + 4) * period
    for i, halves in ((0, 1), (1, 2)):
        bench.switch(i, bench.cycle, closed=True)
        bench.switch(i, round(start + 20), closed=False)
        bench.switch(i, round(start + 20 + halves * period / 2), closed=True)
    bench.run(200)

    assert [live for _, live in watched.reported(0)] == [True]
    assert [live for _, live in watched.reported(1)] == [True, False, True]


@pytest.mark.parametrize("frequency", [50, 60])
def test_pulses_of_the_declared_blind_time_are_seen(board: MakeBoard, frequency: float) -> None:
    watched = Watched(board(SMALL), seed=11)
    watched.mains(frequency=frequency, volts=20, threshold=11)
    *_, blind_on, blind_off = declared(watched.bench)
    for i in watched.channels:
        at = watched.bench.cycle + watched.dice.randrange(20 * CYCLES_PER_MS)
        for _ in range(20):
            for closed, us in ((True, 60_000), (False, blind_off), (True, 60_000), (False, 60_000), (True, blind_on),
                               (False, 60_000)):  # fmt: skip
                watched.bench.switch(i, at, closed=closed)
                watched.truth[i].append((at, closed))
                at += (us + watched.dice.randrange(9_000)) * CYCLES_PER_US
    watched.run()

    on, off = watched.errors()

    assert len(on) == len(off) == 3 * 20 * len(watched.channels)


def test_nothing_is_ever_stamped_at_or_before_what_was_settled(board: MakeBoard) -> None:
    watched = Watched(board(LARGE), seed=12)
    watched.mains(frequency=60)
    watched.toggle(10, on_ms=20, off_ms=20)
    last = max(at for edges in watched.truth for at, _ in edges)
    settled = 0
    while watched.bench.cycle < last + 60 * CYCLES_PER_MS:
        seen = len(watched.bench.events())
        reply = watched.bench.ok("STAT?").split(",")
        late = [int(fields[1]) for fields in watched.bench.events()[seen:] if int(fields[0]) < int(reply[6])]
        assert all(at > settled for at in late)
        assert len(watched.bench.events()) >= int(reply[6])
        assert int(reply[0]) >= settled
        settled = int(reply[0])

    assert watched.bench.device_us(watched.bench.cycle) - settled < 60_000


@BOTH
def test_an_event_a_poll_and_a_call_take_no_longer_than_declared(board: MakeBoard, part: Part) -> None:
    """The figures of the wiring table."""
    watched = Watched(board(part), seed=14)
    watched.mains(frequency=50)
    bench, dice = watched.bench, watched.dice
    took: dict[bool, list[float]] = {True: [], False: []}
    for closed in (True, False) * 25:
        at, seen = bench.cycle + dice.randrange(1, 20 * CYCLES_PER_MS), len(bench.lines)
        bench.switch(0, at, closed=closed)
        bench.run(60)
        took[closed].append((bench.lines[seen].cycle - at) / CYCLES_PER_MS)
    assert 8 <= min(took[True]) <= max(took[True]) <= 17
    assert 16 <= min(took[False]) <= max(took[False]) <= 24

    bench.ok("CONF:LOCK")
    for n in range(20):
        asked, moves = bench.cycle, len(bench.moves)
        bench.ok("STAT?")
        assert (bench.lines[-1].cycle - asked) / CYCLES_PER_MS <= 6
        bench.send(seal(">", n, "OUTP ON" if n % 2 == 0 else "OUTP OFF"))
        told = bench.sent()
        bench.run(5 + dice.random())
        assert 0 < (bench.moves[moves][0] - told) / CYCLES_PER_MS <= 1.5


def test_more_edges_than_can_be_stamped_are_told_and_the_loop_lives(board: MakeBoard) -> None:
    """100 000 edges a second on one input for 30 ms."""
    bench = board(SMALL)
    bench.mains(0, on_delay=0, off_delay=0)
    bench.run(20)
    for n in range(1_500):
        bench.noise(0, bench.cycle + 1_000 + n * 20 * CYCLES_PER_US, 10)
    bench.run(100)

    assert "LOST" in {fields[2] for fields in bench.events()}
    assert bench.resets() == 0
    bench.switch(3, bench.cycle, closed=True)
    bench.run(40)
    assert bench.events()[-1][2:] == ["INP", "4", "1"]


def test_a_storm_of_edges_on_one_input_does_not_take_the_processor(board: MakeBoard) -> None:
    """250 000 edges a second for 300 ms: more than interrupts alone could serve; relays stay, the host is heard."""
    bench = board(SMALL)
    bench.mains(0, on_delay=0, off_delay=0)
    bench.run(20)
    for body in ("CONF:LOCK", "OUTP ON", "ROUT:CLOS (@2)"):
        bench.ok(body)
    start = bench.cycle + 1_000
    for n in range(37_500):
        bench.noise(0, start + n * 8 * CYCLES_PER_US, 4)
    for _ in range(12):
        bench.run(25)
        bench.ok("*OPC?")

    assert bench.resets() == 0
    assert bench.closed() == {0, 2}


def test_events_that_find_no_room_show_as_a_gap_in_the_numbers(board: MakeBoard) -> None:
    """All inputs change every 30 ms, while long replies hold the wire."""
    watched = Watched(board(LARGE), seed=13)
    watched.mains(phase=0)
    bench = watched.bench
    bench.ok("CONF:MIN (@1:16),3600000")
    for n in range(24):
        for i in watched.channels:
            bench.switch(i, bench.cycle + (5 + 30 * n) * CYCLES_PER_MS, closed=n % 2 == 0)
    end = bench.cycle + 750 * CYCLES_PER_MS
    while bench.cycle < end:
        bench.ok("CONF:MIN? (@1:16)")
    bench.run(200)
    numbers = [int(fields[0]) for fields in bench.events()]
    missing = numbers[-1] + 1 - len(numbers)

    assert numbers == sorted(numbers)
    assert missing > 16
    assert int(bench.ok("STAT?").split(",")[6]) == 1 + 24 * len(watched.channels)
