"""The run's clock is the host's: what the board stamps is told within ends that hold, however its own clock runs."""

from __future__ import annotations

from random import Random

import pytest
from board_rigs import Mockup, mockup, spec
from native_core import Core

from stagecall.errors import RigLostError
from stagecall.model.event import Call, Edge, Reading
from stagecall.rigs.contract import Move
from stagecall.rigs.device_clock import RATE, WANDER, DeviceClock

BOARD = spec().kit.board
assert BOARD is not None
LIMIT, BLOWER = BOARD.inputs["limit"], BOARD.inputs["blower"]
ADAPTER_US = 16_000
"""How seldom a usual adapter hands on what has come."""


def now(made: Mockup) -> float:
    """The host's time on the run's clock, ms."""
    return (made.link.now_us() - made.rig._line.zero) / 1000


def pass_ms(made: Mockup, ms: float) -> list[Edge]:
    """Let the run's time pass in polls."""
    until, edges = now(made) + ms, []
    while now(made) < until:
        edges += [event for event in made.rig.poll(made.rig.now + 1).events if isinstance(event, Edge)]
    return edges


@pytest.mark.parametrize("every", [250, ADAPTER_US])
@pytest.mark.parametrize("rate", [1 - 0.99 * RATE, 0.9999, 1.0, 1.0003, 1 + 0.99 * RATE])
def test_every_change_lies_in_the_interval_that_is_told(core: Core, rate: float, every: int) -> None:
    made, draw = mockup(core, rate=rate, every=every), Random(rate)
    made.rig.runs_ahead = False
    made.rig.snapshot()
    truth: list[float] = []
    edges: list[Edge] = []
    for number in range(60):
        made.link.stand_still(draw.randrange(250, 200_000, 250))
        truth.append(now(made))
        core.live(LIMIT, live=number % 2 == 0)
        edges += pass_ms(made, draw.uniform(1_100, 1_600))
    edges += pass_ms(made, 2_000)

    assert len(edges) == len(truth)
    for true, edge in zip(truth, edges, strict=True):
        assert edge.e is not None
        assert edge.e <= true <= edge.t
        assert edge.t - edge.e <= made.rig.bounds.points["limit"].width
    slowest, fastest = made.rig._line.drift
    assert slowest <= rate - 1 <= fastest
    assert fastest - slowest < 2 * WANDER + 2 * every / 60e6 + 1e-4


def test_every_change_lies_in_its_interval_while_the_boards_oscillator_warms_up(core: Core) -> None:
    made, draw = mockup(core, rate=1.0, every=ADAPTER_US), Random(5)
    made.rig.runs_ahead = False
    made.rig.snapshot()
    truth: list[float] = []
    edges: list[Edge] = []
    for number in range(100):
        made.link.rate = 1.0 + min(number, 50) * 5e-6
        made.link.stand_still(draw.randrange(250, 200_000, 250))
        truth.append(now(made))
        core.live(LIMIT, live=number % 2 == 0)
        edges += pass_ms(made, draw.uniform(1_100, 1_600))
    edges += pass_ms(made, 2_000)

    for true, edge in zip(truth, edges, strict=True):
        assert edge.e is not None
        assert edge.e <= true <= edge.t


def test_an_oscillator_that_wanders_further_than_any_loses_the_rig(core: Core) -> None:
    made = mockup(core)
    made.rig.snapshot()
    while made.rig.now < 60_000:
        made.rig.poll(60_000)
    made.link.rate = 1.02

    with pytest.raises(RigLostError, match="the board's clock jumped"):
        pass_ms(made, 60_000)


@pytest.mark.parametrize("rate", [0.997, 1.003])
def test_a_sensor_of_its_own_time_is_taken_off(core: Core, rate: float) -> None:
    """A current switch closes 0.1 to 0.5 s after the current; the row has room for the board's own share."""
    made, draw = mockup(core, rate=rate), Random(3)
    made.rig.runs_ahead = False
    made.rig.snapshot()
    truth: list[float] = []
    edges: list[Edge] = []
    for number in range(20):
        truth.append(now(made))
        made.rig.poll(0)
        edges += pass_ms(made, draw.uniform(100, 400))
        core.live(BLOWER, live=number % 2 == 0)
        edges += pass_ms(made, 2_000)

    for true, edge in zip(truth, edges, strict=True):
        assert edge.e is not None
        assert edge.e <= true <= edge.t
        assert edge.t - edge.e <= made.rig.bounds.points["blower"].width


def test_a_call_lies_in_the_interval_that_is_told(core: Core) -> None:
    made = mockup(core, rate=1.002)
    made.rig.runs_ahead = False
    made.rig.snapshot()
    for number in range(20):
        before = now(made)
        made.rig._move(Move(calls=frozenset({"G"} if number % 2 == 0 else ())))
        after = now(made) + 10
        calls = []
        while not calls:
            calls = [event for event in made.rig.poll(0).events if isinstance(event, Call)]
        (call,) = calls
        assert call.e is not None
        assert call.t > before
        assert call.e < after
        assert call.t - call.e <= made.rig.bounds.call_width


def test_a_line_too_slow_for_what_the_kit_declares_settles_nothing_and_loses_the_rig(core: Core) -> None:
    made = mockup(core, every=90_000)
    made.rig.snapshot()

    with pytest.raises(RigLostError, match="too slow: times are known to"):
        made.rig.poll(60_000)
    assert made.rig._line.settled == 0


def test_probes_are_read_as_often_as_the_kit_says_and_a_loose_one_not_at_all(core: Core) -> None:
    made = mockup(core)
    core.analog(1, 2_500)
    core.analog(2, 2_000)
    core.analog(3, 5_000)
    made.rig.sample(frozenset({"supply_air", "return_air", "outdoor_air", "air_split"}))
    readings = []
    while made.rig._line.settled < 35_000:
        readings += [event for event in made.rig.poll(35_000).events if isinstance(event, Reading)]

    assert {name: len([one for one in readings if one.point == name]) for name in made.rig._channels.every} == {
        "supply_air": 3, "return_air": 3, "outdoor_air": 0, "air_split": 3,
    }  # fmt: skip
    assert [one.value for one in readings if one.point == "supply_air"] == [25.0, 25.0, 25.0]
    split = next(one.value for one in readings if one.point == "air_split")
    assert split == pytest.approx(25.0 - next(one.value for one in readings if one.point == "return_air"))


@pytest.mark.parametrize(
    ("gates", "holds"),
    [
        ([(1_000_000, 1_000_000, 1_004_000)], True),
        ([(1_000_000, 1_009_000, 1_012_000)], False),  # too fast for any oscillator
        ([(1_000_000, 990_000, 994_000)], False),
        ([(999, 1_000_000, 1_004_000)], False),  # back in time
        ([(1_000_000, 900_000, 1_900_000), (1_001_000, 1_001_000, 1_004_000)], True),  # an answer that came late
    ],
)
def test_clocks_that_contradict_each_other_are_found(gates: list[tuple[int, int, int]], holds: bool) -> None:
    clock = DeviceClock(1_000, 0, 4_000)

    assert all(clock.gate(*gate) for gate in gates) is holds


def test_the_ends_part_between_polls_and_come_together_with_the_next() -> None:
    clock = DeviceClock(0, 0, 2_000)
    wide = clock.latest(1_000_000) - clock.earliest(1_000_000)
    clock.gate(1_000_000, 1_000_000, 1_002_000)

    assert wide == pytest.approx(2_000 + 2 * RATE * 1e6)
    assert clock.span <= 2_000


def test_the_time_before_a_poll_is_known_as_well_as_the_time_after() -> None:
    clock = DeviceClock(10_000_000, 0, 2_000)

    assert clock.earliest(9_900_000) == pytest.approx(-100_000 * (1 + RATE))
    assert clock.latest(9_900_000) == pytest.approx(2_000 - 100_000 * (1 - RATE))
