"""How long a sequence takes and what it starts, counted by hand, and held against runs of whole systems."""

from __future__ import annotations

from typing import Any

import pytest

from stagecall.model import plan
from stagecall.model.event import SequenceMark
from stagecall.model.sequence import Anchor, Condition
from stagecall.run.takes import Takes, takes
from stagecall.units import Range
from whole.harness import made_ready, must_run, perform, systems

SLACK = 2_000
"""ms a step may take longer: relays move, and a contact that may bounce is settled a second late."""


def within(low: float | None, high: float | None) -> plan.ResolvedLimit:
    return plan.ResolvedLimit(name="", range=Range(low, high))


def turns(point: str, state: str, low: float | None, high: float | None, **more: Any) -> plan.Turns:
    return plan.Turns(id="", text="", turns=Condition(point, state), within=within(low, high), **more)


def stays(point: str, state: str, **more: Any) -> plan.Stays:
    return plan.Stays(id="", text="", stays=Condition(point, state), **more)


def step(*expect: plan.Form, **more: Any) -> plan.Step:
    return plan.Step(slug="one", title="One", expect=expect, **more)


def counted(*steps: plan.Step) -> tuple[int, int]:
    taken = takes(plan.Sequence(name="one", title="One", group="cool", steps=steps))
    return taken.shortest, taken.longest


@pytest.mark.parametrize(
    ("steps", "span"),
    [
        ([step(lasts=5_000, keep=60_000)], (65_000, 65_000)),
        ([step(keep=60_000)], (60_000, 60_000)),
        ([step(turns("blower", "on", 2_000, 6_000), turns("inducer", "on", None, 4_000))], (2_000, 6_000)),
        ([step(turns("blower", "on", 2_000, None), lasts=90_000)], (90_000, 90_000)),
        ([step(stays("blower", "on", begin=1_000, length=180_000))], (181_000, 181_000)),
        ([step(plan.Reads(id="", text="", reads="supply_air", limit=within(0, 1), at=300_000))], (300_000, 300_000)),
        ([step(turns("blower", "on", None, 6_000, not_applicable="no blower here"))], (0, 0)),
        ([step(lasts=5_000), step(lasts=7_000, not_applicable="Y2 not wired here")], (5_000, 5_000)),
    ],
)
def test_steps_take_what_their_lengths_and_windows_ask(steps: list[plan.Step], span: tuple[int, int]) -> None:
    assert counted(*steps) == span


def test_a_window_from_an_edge_in_its_step_begins_with_it_wherever_it_stands() -> None:
    after = turns("blower", "on", 30_000, 60_000, since=Anchor("point", "gas_valve", "on"))
    first = turns("gas_valve", "on", 10_000, 20_000)

    assert counted(step(after, first)) == counted(step(first, after)) == (40_000, 80_000)


def test_a_window_from_an_edge_of_an_earlier_step_has_begun_already() -> None:
    first = step(turns("contactor", "off", None, 2_000), lasts=5_000)
    later = step(turns("contactor", "on", 180_000, 300_000, since=Anchor("point", "contactor", "off")))

    assert counted(first, later) == (5_000 + 175_000, 5_000 + 297_000)


def test_each_edge_opens_a_window_of_its_own() -> None:
    each = turns("blower", "on", None, 30_000, each=Anchor("point", "gas_valve", "on"))

    assert counted(step(turns("gas_valve", "on", 10_000, 20_000), each)) == (10_000, 50_000)


def test_an_order_takes_its_gaps_where_all_have_an_upper_end() -> None:
    chain = (Condition("inducer", "on"), Condition("ignitor", "on"), Condition("flame", "on"))
    inducer = turns("inducer", "on", None, 5_000)
    closed = plan.Order(id="", text="", order=chain, gaps=(within(10_000, 20_000), within(1_000, 4_000)))
    open_ = plan.Order(id="", text="", order=chain, gaps=(within(10_000, None), None))

    assert counted(step(inducer, closed)) == (11_000, 29_000)
    assert counted(step(inducer, open_)) == (0, 5_000)


def test_the_guards_minimum_on_and_minimum_off_count() -> None:
    cool = step(turns("contactor", "on", 2_000, 2_000), lasts=5_000, calls=("Y1",))
    rest = step(lasts=10_000)

    assert counted(cool, rest) == (182_000 + 10_000, 182_000 + 10_000)
    assert counted(cool, rest, cool) == (182_000 + 300_000 + 5_000, 182_000 + 300_000 + 5_000)


def test_a_challenge_waits_for_no_minimum_off() -> None:
    cool = step(lasts=200_000, calls=("Y1",))
    again = step(lasts=10_000, calls=("Y1",), challenge="minimum_off")

    assert counted(cool, step(lasts=10_000), again) == (220_000, 220_000)


def test_power_lost_stops_the_compressor_as_a_dropped_call_does() -> None:
    cool = step(lasts=60_000, calls=("Y1",))
    dark = step(lasts=5_000, calls=("Y1",), power="off")

    assert counted(cool, dark) == (185_000, 185_000)


def test_it_starts_what_its_expectations_turn_on_and_names_its_calls() -> None:
    sequence = plan.Sequence(
        name="one",
        title="One",
        group="heat",
        steps=(
            step(
                turns("wire_W1", "on", None, 1_000),
                plan.Order(id="", text="", order=(Condition("inducer", "on"), Condition("pressure_switch", "closed"))),
                turns("gas_valve", "on", None, 1_000),
                turns("fresh_air", "on", None, 1_000, not_applicable="no fresh air here"),
                stays("blower", "off"),
                calls=("W1",),
            ),
            step(turns("blower", "on", None, 1_000), turns("inducer", "off", None, 1_000), calls=("W1", "G")),
        ),
    )
    taken = takes(sequence)

    assert (taken.starts, taken.calls) == (("inducer", "gas_valve", "blower"), ("W1", "G"))


@pytest.mark.parametrize(
    ("shortest", "longest", "said"),
    [
        (1_200_000, 2_060_000, "20 to 35 min"),
        (600_000, 600_000, "10 min"),
        (10_000, 400_000, "at most 7 min"),
        (60_000, 120_000, "60 to 120 s"),
        (0, 0, "0 s"),
    ],
)
def test_it_is_said_in_whole_minutes_or_seconds(shortest: int, longest: int, said: str) -> None:
    taken = Takes(shortest=shortest, longest=longest, starts=("outdoor_fan",), calls=("Y1", "G"))

    assert str(taken) == f"takes {said}, starts: outdoor fan; calls: Y1, G"


def test_what_starts_nothing_and_calls_nothing_says_so() -> None:
    assert str(Takes(shortest=0, longest=5_000, starts=(), calls=())) == "takes at most 5 s; makes no call"


@pytest.mark.parametrize("system", systems())
def test_what_must_run_on_a_sample_system_takes_as_long_as_was_said(system: str) -> None:
    wrong = []
    for sequence in made_ready(system, "full", must_run(system)).sequences:
        performed = perform(system, sequence.name)
        begin, end = (line.t for line in performed.lines if isinstance(line, SequenceMark))
        said, slack = takes(sequence), SLACK * len(sequence.steps)
        if not said.shortest - SLACK <= end - begin <= said.longest + slack:
            wrong.append(f"{sequence.name}: {end - begin} ms, said {said.shortest} to {said.longest}")

    assert wrong == []
