"""What does not agree within a map is told with its line and column, all at once."""

from __future__ import annotations

import pytest

from stagecall.documents import parse
from stagecall.errors import DocumentError
from stagecall.imports.checks import check
from stagecall.model.map import Map
from stagecall.points import SENSED

TOP = """map: test
title: one
time: {column: time, format: "%Y-%m-%d"}
columns:
"""


def complaints(text: str) -> list[str]:
    try:
        check(parse(Map, text.encode(), "test.yaml"))
    except DocumentError as error:
        return [str(one) for one in error.complaints]
    return []


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("{column: a, call: Y1, point: blower}", "a column is of a call or of a point, one of the two"),
        ("{column: a}", "a column is of a call or of a point, one of the two"),
        (
            "{column: a, point: blower}",
            f"'sensed' is missing here: how 'blower' was sensed ({', '.join(SENSED)})",
        ),
        (
            "{column: a, call: Y1, sensed: contact}",
            "a call is not sensed: it is what was asked; leave 'sensed' out, or name the point that was seen",
        ),
        (
            "{column: a, point: compressor, sensed: call_volts}",
            "a command is a call, never a running device: write 'call', or how 'compressor' itself was sensed",
        ),
        ("{call: Y1}", "'column' is missing here"),
        ("{column: a, point: supply_air, sensed: air_temp}", "'unit' is missing here: the unit of 'supply_air'"),
        (
            "{column: a, point: supply_air, sensed: air_temp, unit: V}",
            "'V' is no unit of 'supply_air'; expected that of a temperature (such as 70 °F)",
        ),
        (
            "{column: a, point: supply_air, sensed: air_temp, unit: furlong}",
            "'furlong' is no unit of 'supply_air'; expected that of a temperature (such as 70 °F)",
        ),
        (
            "{column: a, point: supply_air, sensed: air_temp, unit: °F, uncertainty: 1 V}",
            "'1 V' is not a difference of temperatures (such as 20 °F)",
        ),
        (
            "{column: a, point: supply_air, sensed: air_temp, unit: °F, equals: hot}",
            "'supply_air' is a quantity, it has no states",
        ),
        (
            "{column: a, point: blower, sensed: amps, unit: A}",
            "'unit', 'uncertainty' and 'holds' belong to a quantity; 'blower' has states",
        ),
        (
            "{column: a, point: blower, sensed: amps, states: {1: open}}",
            "'open' (for '1') is not a state of blower; known: on, off",
        ),
        (
            "{column: a, point: blower, sensed: amps, equals: x, states: {1: on}}",
            "'states' and 'equals' contradict each other",
        ),
        (
            "{column: a, point: reversing_valve, sensed: coil_volts}",
            "'reversing_valve' needs 'states': which text stands for cool and which for heat",
        ),
    ],
)
def test_a_columns_complaint_stands_at_the_column(column: str, text: str) -> None:
    assert complaints(TOP + f"  - {column}\n") == [f"test.yaml:5:5: {text}"]


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        (
            "column: time,",
            "column: time, zone: Nowhere/Town,",
            "3:28: 'Nowhere/Town' is no zone; write unknown, an offset (-07:00) or a name (America/Denver)",
        ),
        ("column: time,", "", "3:1: 'column' is missing here: the rows are samples"),
        ("column: time,", "column: time, start: time,", "3:29: 'start' has no meaning here: the rows are samples"),
        ('"%Y-%m-%d"', "[]", "3:22: a time has at least one format"),
        (
            '"%Y-%m-%d"',
            '"%H:%M"',
            "3:30: '%H:%M' has no year; join a date and a time as column: [Date, Time]",
        ),
        (
            "title: one",
            "table: {encoding: klingon}\ntitle: one",
            "2:19: 'klingon' is no encoding (such as utf-8, latin-1, cp1252)",
        ),
        (
            "title: one",
            "table: {encoding: rot13}\ntitle: one",
            "2:19: 'rot13' is no encoding (such as utf-8, latin-1, cp1252)",
        ),
    ],
)
def test_what_is_wrong_with_the_file_or_its_time_stands_at_its_place(old: str, new: str, complaint: str) -> None:
    text = (TOP + "  - {column: a, call: Y1}\n").replace(old, new)

    assert complaints(text) == [f"test.yaml:{complaint}"]


def test_a_call_or_point_has_one_column_only() -> None:
    text = TOP + "  - {column: a, call: Y}\n  - {column: b, call: Y1}\n"

    assert complaints(text) == ["test.yaml:6:5: 'Y1' has a column already"]


def test_a_map_names_a_column() -> None:
    assert complaints(TOP.replace("columns:\n", "columns: []\n")) == ["test.yaml:4:1: a map names at least one column"]


def test_spans_have_a_start_and_an_end_and_no_quantities() -> None:
    text = TOP.replace("title: one", "title: one\nrows: spans") + (
        "  - {column: a, point: supply_air, sensed: air_temp, unit: °F}\n"
    )

    assert complaints(text) == [
        "test.yaml:4:1: 'start' is missing here: the rows are spans",
        "test.yaml:4:1: 'end' is missing here: the rows are spans",
        "test.yaml:4:16: 'column' has no meaning here: the rows are spans",
        "test.yaml:6:5: 'supply_air' is a quantity; spans hold what is on from a start to an end",
    ]


def test_all_complaints_of_a_map_come_at_once() -> None:
    text = TOP + "  - {column: a}\n  - {column: b, point: blower}\n  - {call: G}\n"

    assert [line.split(": ")[0] for line in complaints(text)] == ["test.yaml:5:5", "test.yaml:6:5", "test.yaml:7:5"]
