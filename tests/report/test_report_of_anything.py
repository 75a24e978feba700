"""Whatever stands in a log, a report can be drawn of it, and nothing in it reaches the terminal as a command."""

from __future__ import annotations

import io
import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

import strategies
from report.hand_made import header, passing, planned, record_from
from stagecall.errors import LogError
from stagecall.model.event import AnyLine, Document, Header, Note, VerdictLine
from stagecall.record import document
from stagecall.report.as_json import as_object
from stagecall.report.record import Record, record_of
from stagecall.report.terminal import drawn

VERDICTS = st.lists(
    strategies.line(
        VerdictLine,
        of=st.sampled_from(["", "a", "boiler-with-a-long-name"]),
        id=st.sampled_from(["", "a.1", "a.2"]),
    ),
    max_size=8,
)


@settings(max_examples=40)
@given(strategies.headers(), strategies.bodies(), VERDICTS, st.sampled_from([40, 72, 80, 100, 200]))
def test_any_log_can_be_drawn_within_its_width(
    head: Header, lines: list[AnyLine], verdicts: list[AnyLine], width: int
) -> None:
    record = record_of([head, *(line for line in lines if not isinstance(line, Document)), *verdicts])

    assert all(cell_len(line) <= width for line in drawn(record, io.StringIO(), width=width).split("\n"))
    assert json.loads(json.dumps(as_object(record)))["result"] == record.verdict


def shown(text: str) -> str:
    record: Record = record_from([*passing("recorded log")[:-1], Note(t=10_000, text=text), passing()[-1]])
    return drawn(record, io.StringIO(), width=80)


@pytest.mark.parametrize(
    ("text", "harmless"),
    [
        ("\x1b[2Jgone", "Note: ?[2Jgone\n"),
        ("two\nlines\tand\x07 a bell", "Note: two lines and? a bell\n"),
        ("\u202egnorw", "Note: ?gnorw\n"),
        ("冷房 21 °C", "Note: 冷房 21 °C\n"),
    ],
)
def test_what_would_move_the_cursor_is_shown_harmless(text: str, harmless: str) -> None:
    assert harmless in shown(text)


def test_a_name_wider_than_the_screen_is_wrapped() -> None:
    name = "x" * 90
    record = record_from([header(), VerdictLine(of=name, verdict="pass"), VerdictLine(verdict="pass")])  # type: ignore[arg-type]

    assert all(len(line) <= 80 for line in drawn(record, io.StringIO(), width=80).splitlines())


def test_a_document_that_is_none_of_ours_is_told() -> None:
    with pytest.raises(LogError, match=r"the monitor 'often' in the log cannot be understood: "):
        record_of([header(), *planned(), document("monitor", "often", "", {"name": 1})])
