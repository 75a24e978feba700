"""One value holds all that a report tells, built from lines alone."""

from __future__ import annotations

import pytest

from report.hand_made import FAN, NOT_VERIFIED, PASS, failing, fan_lines, header, passing, planned, record_from, written
from stagecall.errors import LogError
from stagecall.model.event import Note, PointBounds, Snapshot, VerdictLine
from stagecall.model.verdict import Reason, Verdict
from stagecall.report.record import record_of


def test_the_record_says_what_was_tested_on_and_with_what() -> None:
    record = record_from(failing())

    assert (record.tested_on, record.system, record.kit, record.seed) == ("model", "split-gas-ac", "full", 1)
    assert (record.run, record.start) == ("20260102-030405-ab12", "2026-01-02T03:04:05+00:00")
    assert record.equipment_ms == 90_000
    assert record.closed


def test_events_are_what_the_source_delivered_and_nothing_else() -> None:
    assert record_from(passing()).events == 3  # a snapshot, the call, the blower


def test_a_row_carries_the_expectation_its_step_and_its_evidence() -> None:
    sequence = record_from(failing()).sequences[1]
    row = sequence.rows[0]

    assert sequence.title == "The compressor stays off long enough before it starts again"
    assert row.step == "Drop the call and call again at once"
    assert row.text == "compressor turns on within 3 min to 8 min since compressor off"
    assert row.sensed == {"compressor": "amps"}
    assert row.verdict is Verdict.FAIL
    assert row.margin == -177_600
    assert row.lines == (14, 16)


def test_what_must_hold_at_the_start_has_a_row_too() -> None:
    row = record_from(passing()).sequences[0].rows[0]

    assert (row.id, row.text, row.sensed) == ("starts.1", "blower off at the start", {"blower": "amps"})


def test_a_point_that_the_source_cannot_see_is_sensed_by_nothing() -> None:
    lines = passing(contactor=PointBounds(sensed="coil_volts"))

    assert record_from(lines).sequences[0].rows[1].sensed == {"blower": None}


def test_a_sequence_run_twice_is_told_twice() -> None:
    later = [
        VerdictLine(t=20_000, of="fan", id="call-the-fan.1", verdict=NOT_VERIFIED, reason=Reason.CUT_SHORT),
        VerdictLine(t=20_000, of="fan", verdict=NOT_VERIFIED, reason=Reason.CUT_SHORT),
    ]
    record = record_from([header(), *planned(FAN), *fan_lines(), *later])

    assert [(each.name, each.verdict) for each in record.sequences] == [("fan", PASS), ("fan", NOT_VERIFIED)]
    assert len(record.sequences[1].rows) == 1


def test_a_log_that_breaks_off_has_what_was_settled_and_no_pass() -> None:
    _, lines = written([header(), *planned(FAN), Snapshot(), *fan_lines()[:-1]])
    record = record_of(lines[:-2])

    assert not record.closed
    assert record.sequences[0].verdict is PASS
    assert record.sequences[0].detail == "the log ends before its verdict"


def test_verdicts_judged_anew_replace_the_stored_ones() -> None:
    _, lines = written(passing())
    anew = [
        VerdictLine(of="fan", id="call-the-fan.1", verdict=Verdict.FAIL),
        VerdictLine(of="fan", verdict=Verdict.FAIL),
        VerdictLine(verdict=Verdict.FAIL),
    ]
    record = record_of(lines, anew=anew)

    assert record.verdict is Verdict.FAIL
    assert [each.verdict for each in record.sequences] == [Verdict.FAIL]
    assert record.monitors == ()


def test_refusals_waits_notes_and_cautions_are_kept() -> None:
    record = record_from([*failing()[:-1], Note(t=90_000, text="a word"), failing()[-1]])

    assert [refusal.because for refusal in record.refusals] == ["six starts within 60 min"]
    assert [wait.until for wait in record.waits] == [30_000]
    assert [note.text for note in record.notes] == ["a word"]
    assert record.cautions == ("The outdoor unit starts. Stand clear of the fan.",)


def test_lines_without_a_header_are_no_log() -> None:
    with pytest.raises(LogError, match=r"x.jsonl: the first line is not a log's header"):
        record_of(passing()[1:], log="x.jsonl")
