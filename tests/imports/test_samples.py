"""Rows that are samples: what lies between two rows, and what is lost in a gap."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from dated import dated
from hypothesis import given
from hypothesis import strategies as st

from stagecall.imports import Recording
from stagecall.imports.samples import Layout, Sample, sample_lines
from stagecall.model.event import AnyLine, Call, Edge, Gap, Reading, Settled, Snapshot, earliest

Import = Callable[..., Recording]

MAP = """
map: test
title: one
time: {column: time, format: "%y%m%d %H:%M:%S"}
columns:
  - {column: y, call: Y1}
  - {column: amps, point: compressor, sensed: amps, on_from: 2}
  - {column: supply, point: supply_air, sensed: air_temp, unit: °F}
"""


def rows(text: str) -> str:
    return "time,y,amps,supply\n" + dated(text)


def test_a_change_happened_after_the_row_before_and_not_after_its_own(imported: Import) -> None:
    recording = imported(rows("12:00:00,0,0.0,70\n12:01:00,1,0.1,70\n12:02:00,1,9.5,60\n"), MAP)

    lines = list(recording.events())

    assert [line for line in lines if not isinstance(line, Reading)] == [
        Snapshot(t=0, points={"compressor": "off"}),
        Settled(t=0),
        Call(t=60_000, e=1, terminal="Y1", state="on"),
        Settled(t=60_000),
        Edge(t=120_000, e=60_001, point="compressor", state="on"),
        Settled(t=120_000),
    ]
    readings = [(line.t, line.value) for line in lines if isinstance(line, Reading)]
    assert readings == [
        (0, pytest.approx(190 / 9)),
        (60_000, pytest.approx(190 / 9)),
        (120_000, pytest.approx(140 / 9)),
    ]


def test_the_source_promises_one_row_of_lateness_and_blindness(imported: Import) -> None:
    recording = imported(rows("12:00:00,0,0,70\n12:01:00,1,0,70\n12:02:00,1,9,60\n"), MAP)
    compressor, supply = recording.source.points["compressor"], recording.source.points["supply_air"]

    assert (recording.source.makes_calls, recording.source.interval, recording.source.call_width) == (
        False,
        60_000,
        59_999,
    )
    assert (compressor.sensed, compressor.width, compressor.blind) == ("amps", 59_999, 60_000)
    assert (supply.sensed, supply.holds) == ("air_temp", 90_000)


def test_a_step_of_one_and_a_half_intervals_is_no_gap_and_a_longer_one_is(imported: Import) -> None:
    text = "12:00:00,0,9,70\n12:01:00,0,9,70\n12:02:00,0,9,70\n12:03:30,0,0,70\n12:05:01,1,9,70\n"
    lines = list(imported(rows(text), MAP).events())

    assert [line for line in lines if isinstance(line, Edge | Call | Gap | Snapshot)] == [
        Snapshot(t=0, points={"compressor": "on"}),
        Edge(t=210_000, e=120_001, point="compressor", state="off"),
        Gap(t=210_001, because="nothing was recorded for 1:31 min"),
        Snapshot(t=301_000, calls=("Y1",), points={"compressor": "on"}),
    ]


def test_the_map_may_say_what_a_gap_is(imported: Import) -> None:
    text = rows("12:00:00,0,0,70\n12:01:00,0,0,70\n12:03:00,0,9,70\n")
    wider = MAP.replace('"%y%m%d %H:%M:%S"', '"%y%m%d %H:%M:%S", gap: 2 min')

    assert [type(line) for line in imported(text, wider).events() if isinstance(line, Edge | Gap)] == [Edge]
    assert [type(line) for line in imported(text, MAP).events() if isinstance(line, Edge | Gap)] == [Gap]
    assert imported(text, wider).source.points["compressor"].blind == 120_000


def test_a_point_whose_cells_are_blank_for_too_long_is_lost_alone_until_it_is_known_again(imported: Import) -> None:
    text = "12:00:00,1,9,70\n12:01:00,1,,70\n12:02:00,0,,70\n12:03:00,0,0,70\n12:04:00,0,9,70\n"
    lines = list(imported(rows(text), MAP).events())

    assert [line for line in lines if isinstance(line, Edge | Call | Gap | Snapshot)] == [
        Snapshot(t=0, calls=("Y1",), points={"compressor": "on"}),
        Gap(t=60_001, e=1, points=("compressor",), because="no value of compressor for 2 min"),
        Call(t=120_000, e=60_001, terminal="Y1", state="off"),
        Snapshot(t=180_000, points={"compressor": "off"}),
        Edge(t=240_000, e=180_001, point="compressor", state="on"),
    ]


def test_a_change_across_a_short_blank_is_as_wide_as_the_blank(imported: Import) -> None:
    wider = MAP.replace('"%y%m%d %H:%M:%S"', '"%y%m%d %H:%M:%S", gap: 5 min')
    recording = imported(rows("12:00:00,0,0,70\n12:01:00,0,,70\n12:02:00,0,9,70\n12:03:00,0,9,70\n"), wider)

    assert [line for line in recording.events() if isinstance(line, Edge | Gap)] == [
        Edge(t=120_000, e=1, point="compressor", state="on")
    ]
    assert recording.source.points["compressor"].width == 119_999


def test_while_a_call_is_unknown_everything_is(imported: Import) -> None:
    text = "12:00:00,1,9,70\n12:01:00,,9,70\n12:02:00,,0,70\n12:03:00,0,0,70\n"
    lines = list(imported(rows(text), MAP).events())

    assert [line for line in lines if isinstance(line, Edge | Call | Gap | Snapshot)] == [
        Snapshot(t=0, calls=("Y1",), points={"compressor": "on"}),
        Gap(t=60_001, e=1, because="no value of Y1 for 2 min"),
        Snapshot(t=180_000, points={"compressor": "off"}),
    ]


def test_nothing_is_known_before_the_first_row_that_has_all_calls(imported: Import) -> None:
    lines = list(imported(rows("12:00:00,,9,70\n12:01:00,1,,70\n12:02:00,1,9,70\n"), MAP).events())

    assert [line for line in lines if isinstance(line, Edge | Call | Gap | Snapshot)] == [
        Snapshot(t=60_000, calls=("Y1",)),
        Snapshot(t=120_000, calls=("Y1",), points={"compressor": "on"}),
    ]


def test_rows_oftener_than_every_ten_seconds_are_settled_every_ten_and_at_the_end(imported: Import) -> None:
    text = "".join(f"12:00:{second:02d},0,0,70\n" for second in range(28))
    recording = imported(rows(text), MAP)

    assert [line.t for line in recording.events() if isinstance(line, Settled)] == [0, 10_000, 20_000, 27_000]
    assert recording.source.interval == 1000


def test_a_switch_is_closed_and_a_level_has_the_maps_states_and_low_can_mean_on(imported: Import) -> None:
    text = "time,draft,valve,mode,alarm\n12:00:00,24.6,1,cool,0\n12:01:00,0.2,0,heat,1\n"
    lines = imported(
        dated(text),
        """
map: test
title: one
time: {column: time, format: "%y%m%d %H:%M:%S"}
columns:
  - {column: draft, point: pressure_switch, sensed: contact, on_from: 10}
  - {column: valve, point: reversing_valve, sensed: coil_volts, states: {"1": cool, "0": heat}}
  - {column: mode, equals: heat, call: W1}
  - {column: alarm, point: alarm, sensed: contact, low_is_on: true}
""",
    ).events()

    assert [line for line in lines if not isinstance(line, Settled)] == [
        Snapshot(t=0, points={"pressure_switch": "closed", "reversing_valve": "cool", "alarm": "on"}),
        Call(t=60_000, e=1, terminal="W1", state="on"),
        Edge(t=60_000, e=1, point="pressure_switch", state="open"),
        Edge(t=60_000, e=1, point="reversing_valve", state="heat"),
        Edge(t=60_000, e=1, point="alarm", state="off"),
    ]


STATES = st.sampled_from(["on", "off", None])
SAMPLES = st.lists(
    st.tuples(st.sampled_from([1, 30, 60, 90, 91, 300]), st.tuples(STATES, STATES, STATES)), min_size=1, max_size=30
)


@given(SAMPLES)
def test_from_the_events_alone_every_row_is_known_again_and_no_more_than_the_rows_held(
    drawn: list[tuple[int, tuple[str | None, ...]]],
) -> None:
    samples, t = [], 0
    for step, states in drawn:
        samples.append(Sample(t * 1000, states, ()))
        t += step
    layout = Layout(("Y1",), ("compressor", "blower"), (), 90_000)

    lines = list(sample_lines(samples, layout))
    known: dict[str, str | None] = {}
    queue = list(lines)
    for sample in samples:
        while queue and queue[0].t <= sample.t:
            follow(queue.pop(0), known)
        for name, state in zip(("Y1", "compressor", "blower"), sample.states, strict=True):
            if state is not None and known.get(name) is not None:
                assert known[name] == state
        if None not in sample.states:
            assert None not in {known.get(name) for name in ("Y1", "compressor", "blower")}
    assert queue == []
    assert [line.t for line in lines] == sorted(line.t for line in lines)
    settled = -1
    for line in lines:
        if isinstance(line, Settled):
            settled = line.t
            continue
        assert line.t > settled
        if isinstance(line, Edge | Call):
            assert line.t - 90_000 < earliest(line) < line.t


def follow(line: AnyLine, known: dict[str, str | None]) -> None:
    match line:
        case Snapshot():
            known.clear()
            known.update(line.points)
            known["Y1"] = "on" if "Y1" in line.calls else "off"
        case Gap():
            for name in line.points or ("Y1", "compressor", "blower"):
                known[name] = None
        case Edge():
            assert known[line.point] != line.state
            known[line.point] = line.state
        case Call():
            assert known["Y1"] != line.state
            known["Y1"] = line.state
