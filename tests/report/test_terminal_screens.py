"""What the user sees, word for word: the screens stand in ``screens/``."""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest

from report.hand_made import NOT_VERIFIED, failing, header, passing, record_from
from stagecall.model.event import Exception_, Note, VerdictLine
from stagecall.model.verdict import Verdict
from stagecall.report.terminal import drawn

SCREENS = Path(__file__).parent / "screens"
LOGS = {"passing": passing, "failing": failing}
ESCAPE = re.compile(r"\x1b\[[0-9;]*m")


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("width", [80, 40, 120])
@pytest.mark.parametrize("name", LOGS)
def test_the_screen_is_as_it_was_looked_at(name: str, width: int) -> None:
    screen = drawn(record_from(LOGS[name]()), io.StringIO(), width=width)

    assert screen == (SCREENS / f"{name}-{width}.txt").read_text("utf-8")


@pytest.mark.parametrize("name", LOGS)
def test_piped_it_is_as_it_was_looked_at(name: str) -> None:
    assert drawn(record_from(LOGS[name]()), io.StringIO()) == (SCREENS / f"{name}-piped.txt").read_text("utf-8")


@pytest.mark.parametrize("width", [20, 40, 71, 72, 80, 100, 200])
@pytest.mark.parametrize("name", LOGS)
def test_no_line_is_wider_than_the_screen_or_ends_in_blanks(name: str, width: int) -> None:
    for line in drawn(record_from(LOGS[name]()), io.StringIO(), width=width).splitlines():
        assert len(line) <= width
        assert line == line.rstrip()


def test_the_first_line_says_what_it_was_tested_on() -> None:
    assert drawn(record_from(passing("recorded log")), io.StringIO()).splitlines()[0] == "TESTED ON: RECORDED LOG"


def test_piped_every_row_is_one_line_and_nothing_is_shortened() -> None:
    lines = drawn(record_from(failing()), io.StringIO()).splitlines()

    assert "FAIL          compressor-minimum-off  The compressor stays off long enough before it starts again" in lines
    assert any("compressor turns on within 3 min to 8 min since compressor off  2.4 s" in line for line in lines)
    assert lines[-1].endswith("A pass on the model is not acceptance of equipment.")


def test_colour_adds_nothing_to_the_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    coloured = drawn(record_from(failing()), Terminal(), width=80)

    assert "\x1b[1;31mFAIL\x1b[0m" in coloured
    assert ESCAPE.sub("", coloured) == drawn(record_from(failing()), io.StringIO(), width=80)


@pytest.mark.parametrize(("variable", "value"), [("NO_COLOR", "1"), ("TERM", "dumb")])
def test_no_colour_where_none_is_wanted(variable: str, value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv(variable, value)
    screen = drawn(record_from(failing()), Terminal(), width=80)

    assert not re.search(r"\x1b\[[0-9;]*3[0-7]", screen)


def many(count: int) -> list[VerdictLine]:
    return [VerdictLine(t=10_000, of=f"sequence-{number}", verdict=Verdict.PASS) for number in range(count)]


@pytest.mark.parametrize("count", [9, 12, 13, 14, 24])
def test_a_passing_run_fits_on_one_screen_however_many_sequences(count: int) -> None:
    lines = passing()
    screen = drawn(record_from([*lines[:-1], *many(count - 1), lines[-1]]), io.StringIO(), width=80)

    assert len(screen.splitlines()) <= 23
    assert all(f"sequence-{number}" in screen for number in range(count - 1))


def test_piped_each_of_many_sequences_has_its_line() -> None:
    lines = passing()
    screen = drawn(record_from([*lines[:-1], *many(30), lines[-1]]), io.StringIO())

    assert screen.count("\nPASS") == 33


def test_sequences_that_do_not_apply_take_no_row() -> None:
    away = VerdictLine(t=10_000, of="boiler", verdict=Verdict.NOT_APPLICABLE, counted=False, detail="no boiler")
    screen = drawn(record_from([*passing()[:-1], away, passing()[-1]]), io.StringIO())

    assert not any("boiler" in line for line in screen.splitlines()[:9])
    assert "Not applicable here: boiler." in screen


def test_exceptions_and_refusals_stand_out() -> None:
    excepted = Exception_(
        t=10_000, sequence="fan", id="call-the-fan.1", by="A. Smith", role="owner", because="replaced next week"
    )
    screen = drawn(record_from([*passing()[:-1], excepted, passing()[-1]]), io.StringIO())

    assert "EXCEPTED fan call-the-fan.1 by A. Smith (owner): replaced next week" in screen
    assert "CALL REFUSED: six starts within 60 min" in drawn(record_from(failing()), io.StringIO())


def test_of_many_notes_a_few_are_shown_and_the_rest_counted() -> None:
    notes = [Note(t=10_000, text=f"word {number}") for number in range(5)]
    lines = passing("recorded log")
    screen = drawn(record_from([*lines[:-1], *notes, lines[-1]]), io.StringIO())

    assert "Note: word 2\n2 more notes in the log." in screen
    assert "word 3" not in screen


def test_notes_of_a_run_on_the_model_that_passed_stay_in_the_log() -> None:
    note = Note(t=10_000, text="a word")
    lines = passing()

    assert "a word" not in drawn(record_from([*lines[:-1], note, lines[-1]]), io.StringIO())
    assert "Note: a word" in drawn(
        record_from([*failing()[:-1], Note(t=90_000, text="a word"), failing()[-1]]), io.StringIO()
    )


def test_why_a_sequence_was_cut_short_stands_under_it() -> None:
    cut = VerdictLine(t=10_000, of="late", verdict=NOT_VERIFIED, detail="interrupted by the person")
    screen = drawn(record_from([*passing()[:-1], cut, passing()[-1]]), io.StringIO())

    assert "NOT VERIFIED  late                   late\n  interrupted by the person\n" in screen


def test_a_remark_on_what_passed_is_made_once_and_one_on_what_did_not_stands_with_it() -> None:
    remark = "pulses under 1 s cannot be seen"
    lines = [
        header(),
        *(VerdictLine(of="a", id=f"a.{number}", verdict=Verdict.PASS, remark=remark) for number in range(3)),
        VerdictLine(of="a", id="a.4", verdict=Verdict.PASS, usual=False, remark="passed, outside usual"),
        VerdictLine(of="a", id="a.5", verdict=Verdict.FAIL, remark=remark),
        VerdictLine(of="a", verdict=Verdict.FAIL),
        VerdictLine(verdict=Verdict.FAIL),
    ]
    screen = drawn(record_from(lines), io.StringIO())

    assert screen.count(remark) == 2
    assert f"  (3 passed: {remark})\n" in screen
    assert "        passed, outside usual\n" in screen
    assert f"        {remark}\n" in screen
