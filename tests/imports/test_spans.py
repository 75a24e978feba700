"""Rows that are spans: start and end become edges."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from dated import dated

from stagecall.imports import Recording
from stagecall.model.event import Call, Edge, Settled, Snapshot

Import = Callable[..., Recording]

MAP = """
map: test
title: one
rows: spans
time: {start: from, end: to, format: "%y%m%d %H:%M:%S"}
columns:
  - {column: what, equals: Cool, call: Y1}
  - {column: what, equals: Fan, point: blower, sensed: amps}
"""
ROWS = dated("what,from,to\nCool,12:00:00,12:10:00\nFan,12:00:00,12:11:00\n")


def test_a_spans_start_and_end_are_edges_and_all_is_off_before_the_first(imported: Import) -> None:
    recording = imported(ROWS, MAP)

    assert recording.start == "2026-01-02T11:59:59-00:00"
    assert list(recording.events()) == [
        Snapshot(points={"blower": "off"}),
        Call(t=1000, terminal="Y1", state="on"),
        Edge(t=1000, point="blower", state="on"),
        Call(t=601_000, terminal="Y1", state="off"),
        Settled(t=601_000),
        Edge(t=661_000, point="blower", state="off"),
        Settled(t=661_000),
    ]


def test_spans_of_a_device_that_looks_now_and_then_may_have_changed_that_much_earlier(imported: Import) -> None:
    recording = imported(ROWS, MAP.replace('"%y%m%d %H:%M:%S"', '"%y%m%d %H:%M:%S", interval: 60 s'))
    bounds = recording.source.points["blower"]

    assert [line for line in recording.events() if isinstance(line, Call)] == [
        Call(t=60_000, e=1, terminal="Y1", state="on"),
        Call(t=660_000, e=600_001, terminal="Y1", state="off"),
    ]
    assert (bounds.width, bounds.blind, recording.source.call_width) == (59_999, 60_000, 59_999)


@pytest.mark.parametrize(
    ("touching", "states"),
    [("joined", ["on", "off"]), ("apart", ["on", "off", "on", "off"])],
)
def test_touching_spans_are_joined_or_stay_apart(imported: Import, touching: str, states: list[str]) -> None:
    text = dated("what,from,to\nCool,12:05:00,12:10:00\nCool,12:00:00,12:05:00\n")
    lines = imported(text, MAP.replace("columns:", f"touching: {touching}\ncolumns:")).events()

    assert [line.state for line in lines if isinstance(line, Call)] == states


def test_overlapping_spans_are_one_either_way(imported: Import) -> None:
    text = dated("what,from,to\nCool,12:00:00,12:06:00\nCool,12:05:00,12:10:00\nCool,12:01:00,12:02:00\n")
    lines = list(imported(text, MAP.replace("columns:", "touching: apart\ncolumns:")).events())

    assert [(line.t, line.state) for line in lines if isinstance(line, Call)] == [(1000, "on"), (601_000, "off")]


def test_a_span_that_ends_no_later_than_it_begins_is_left_out(imported: Import) -> None:
    recording = imported(ROWS + dated("Cool,13:00:00,13:00:00\nCool,13:10:00,13:00:00\n"), MAP)

    assert [str(bad) for bad in recording.bad] == [
        "line 4: ends ('260102 13:00:00') no later than it begins",
        "line 5: ends ('260102 13:00:00') no later than it begins",
    ]
    assert recording.used == 2


def test_rows_of_other_devices_and_of_other_kinds_are_passed_over(imported: Import) -> None:
    text = dated("id,what,from,to\n7,Cool,12:00:00,12:10:00\n8,Cool,12:20:00,12:30:00\n7,Dry,12:40:00,12:50:00\n")
    recording = imported(text, MAP.replace("columns:", 'only: {id: "7"}\ncolumns:'))

    assert (recording.used, len([line for line in recording.events() if isinstance(line, Call)])) == (1, 2)


def test_where_no_column_is_named_every_row_counts(imported: Import) -> None:
    recording = imported(
        dated("from,to\n12:00:00,12:10:00\n"),
        """
map: test
title: one
rows: spans
time: {start: from, end: to, format: "%y%m%d %H:%M:%S"}
columns:
  - {point: compressor, sensed: load_volts}
""",
    )

    assert [line.state for line in recording.events() if isinstance(line, Edge)] == ["on", "off"]
