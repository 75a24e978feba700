"""The person at the screen: lines typed, Ctrl-C, and progress that leaves nothing behind."""

from __future__ import annotations

import io
import os
import signal
import threading
from collections.abc import Iterator

import pytest

from report.hand_made import FAN, planned
from stagecall.cli.console import BySelect, ByThread, Nobody, Screen, typist
from stagecall.cli.progress import OneLine, Progress
from stagecall.model.event import AnyLine, Question, Refusal, SequenceMark
from stagecall.run.course import meant


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def looked_at(monkeypatch: pytest.MonkeyPatch, terminal: Terminal) -> Terminal:
    """Stand in for stderr, 40 columns wide; in the test itself, because capturing puts stderr back after fixtures."""
    monkeypatch.setattr("sys.stderr", terminal)
    monkeypatch.setenv("COLUMNS", "40")
    monkeypatch.setenv("NO_COLOR", "1")
    return terminal


@pytest.fixture
def keyboard() -> Iterator[tuple[BySelect, int]]:
    reader, writer = os.pipe()
    yield BySelect(reader), writer
    os.close(reader)


def test_whole_lines_are_given_and_half_a_line_waits(keyboard: tuple[BySelect, int]) -> None:
    typed, writer = keyboard
    assert typed.typed() == []
    os.write(writer, b"yes\n\nn")
    assert typed.typed() == ["yes", ""]
    os.write(writer, b"o\n")
    assert typed.typed() == ["no"]
    os.close(writer)


def test_a_keyboard_that_goes_away_types_nothing_more(keyboard: tuple[BySelect, int]) -> None:
    typed, writer = keyboard
    os.write(writer, b"yes\n")
    os.close(writer)

    assert typed.typed() == ["yes"]
    assert typed.typed() == []


def test_a_thread_hands_over_the_same_lines_where_select_cannot_watch() -> None:
    spoken = iter(["yes\n", "\n"])
    ended = threading.Event()

    def readline() -> str:
        line = next(spoken, "")
        if not line:
            ended.set()
        return line

    typed = ByThread(readline)
    assert ended.wait(10)

    assert typed.typed() == ["yes", ""]
    assert typed.typed() == []


def test_from_a_pipe_nothing_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))

    assert isinstance(typist(), Nobody)
    assert typist().typed() == []


class Typed:
    def __init__(self, *lines: str) -> None:
        self.lines = list(lines)

    def typed(self) -> list[str]:
        return self.lines


def test_what_is_typed_is_handed_on_as_it_is() -> None:
    screen = Screen(Progress(), Typed("Y", "n", "no", "24.5 V"), lambda _line: None)

    assert screen.typed() == ["Y", "n", "no", "24.5 V"]


@pytest.mark.parametrize(("typed", "answer"), [("Y", "yes"), ("yes", "yes"), ("n", "no"), ("NO", "no"), ("24 V", None)])
def test_y_and_n_are_yes_and_no_where_a_question_is_open(typed: str, answer: str | None) -> None:
    assert meant(typed) == answer


def test_every_line_is_told_on() -> None:
    told: list[AnyLine] = []
    line = SequenceMark(name="fan", phase="end")
    Screen(Progress(), Nobody(), told.append).show(line)

    assert told == [line]


def test_ctrl_c_is_told_once_for_each_time_and_the_third_ends_all(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = looked_at(monkeypatch, Terminal())
    screen = Screen(Progress(), Nobody(), lambda _line: None)
    with screen.listening():
        assert not screen.interrupted()
        os.kill(os.getpid(), signal.SIGINT)
        os.kill(os.getpid(), signal.SIGINT)
        assert [screen.interrupted() for _ in range(3)] == [True, True, False]
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)

    assert terminal.getvalue() == "Breaking off: all calls go off first.\nStill breaking off.\n"


def test_off_the_main_thread_somebody_else_listens() -> None:
    screen = Screen(Progress(), Nobody(), lambda _line: None)
    before = signal.getsignal(signal.SIGINT)
    inside = []

    def listen() -> None:
        with screen.listening():
            inside.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=listen)
    thread.start()
    thread.join(10)

    assert inside == [before]


def test_one_line_of_progress_is_gone_at_the_end(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = looked_at(monkeypatch, Terminal())
    progress = OneLine()
    for line in planned(FAN):
        progress.show(line)
    progress.show(SequenceMark(name="fan", phase="begin"))
    progress.done()
    progress.done()

    assert terminal.getvalue() == "\r1 of 1: fan\r           \r"


def test_progress_never_fills_the_line_so_that_it_cannot_wrap(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = looked_at(monkeypatch, Terminal())
    OneLine().show(SequenceMark(name="x" * 100, phase="begin"))

    assert len(terminal.getvalue().strip("\r")) == 39


def test_a_refusal_is_told_at_once_and_wraps(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = looked_at(monkeypatch, Terminal())
    OneLine().show(Refusal(because="at most 6 compressor starts in any 60 min"))

    assert terminal.getvalue() == "CALL REFUSED: at most 6 compressor\nstarts in any 60 min\n"


def test_a_question_is_put_only_where_somebody_is_there_to_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    terminal = looked_at(monkeypatch, Terminal())
    question = Question(text="Does the burner light smoothly?")
    Progress().show(question)
    assert terminal.getvalue() == ""

    Progress(attended=True).show(question)
    assert terminal.getvalue() == "Does the burner light smoothly?\nyes or no, and Enter\n"


def test_a_terminal_that_has_gone_does_not_end_a_run(monkeypatch: pytest.MonkeyPatch) -> None:
    class Gone(Terminal):
        def write(self, _text: str) -> int:
            raise BrokenPipeError

    looked_at(monkeypatch, Gone())

    OneLine().show(Refusal(because="never mind"))
    OneLine().show(SequenceMark(name="fan", phase="begin"))
