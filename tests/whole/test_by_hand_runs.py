"""Whole runs by hand: the library's sequences on a mockup, with a person who does and sees what a script says."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pytest

from stagecall.judge import Judge, judge
from stagecall.model.event import AnyLine, Call, Edge, Header, Question, Reading, SequenceMark, VerdictLine
from stagecall.model.verdict import Verdict
from stagecall.record import Log, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.registry import RigSpec, Stand
from stagecall.run.ledger import Ledger
from stagecall.run.loop import turn
from stagecall.run.prepare import prepare
from stagecall.run.session import Session
from whole.harness import LIBRARY

COOLING = {"contactor": 300, "compressor": 500, "outdoor_fan": 400, "blower": 900}
"""What answers Y1 and G, ms after the call; a person types it as they notice it."""


class Person:
    """Does what is asked after a second, types what the machine does, reads what is to be read.

    ``answers``: points that follow a call (made or ended), with how many ms later. ``leaves``: presses Ctrl-C as often
    as that from this moment on. ``hasty``: presses Enter for the blower too early, once, and takes it back.
    """

    hasty = False

    def __init__(self, clock: HandClock, answers: dict[str, dict[str, int]], leaves: int | None = None) -> None:
        self._clock, self._answers, self._leaves = clock, answers, leaves
        self._coming: list[tuple[int, str]] = []
        self.said: list[str] = []

    def _later(self, ms: int, text: str) -> None:
        self._coming.append((self._clock.monotonic_ms() + ms, text))

    def show(self, line: AnyLine) -> None:
        if isinstance(line, Question):
            self._later(500, "yes")

    def tell(self, text: str) -> None:
        self.said.append(text)
        if "Press Enter" in text or "Enter: all is so" in text:
            self._later(1000, "")
        for terminal, points in self._answers.items():
            if re.search(rf"join R to [^.]*\b{terminal}\b", text):
                self._answer(points, "on")
            elif re.search(rf"take [^.]*\b{terminal}\b[^.]* off R", text):
                self._answer(points, "off")
        if self.hasty and text.startswith("Enter  blower on"):
            self.hasty = False
            self._later(200, "")
            self._later(2500, "wrong")
        if text.startswith("Read air split"):
            self._later(4000, "-20 F")
        if text.startswith("Read control voltage"):
            self._later(6000, "25.1 V")

    def _answer(self, points: dict[str, int], state: str) -> None:
        for point, after in points.items():
            self._later(1000 + after + 1500, f"{point.replace('_', ' ')} {state}")

    def alarm(self, text: str) -> None:
        self.said.append(text)

    def typed(self) -> list[str]:
        now = self._clock.monotonic_ms()
        due = [text for t, text in sorted(self._coming) if t <= now]
        self._coming = [(t, text) for t, text in self._coming if t > now]
        return due

    def interrupted(self) -> bool:
        if self._leaves is None or self._clock.monotonic_ms() < self._leaves:
            return False
        self._leaves = None
        return True


def ran(
    sequence: str, answers: dict[str, dict[str, int]], leaves: int | None = None, *, hasty: bool = False
) -> tuple[list[AnyLine], Person, Session]:
    clock = HandClock(datetime(2026, 1, 1, tzinfo=UTC))
    prepared = prepare(LIBRARY, system="trainer-mockup", kit="by-hand", sequences=(sequence,), real=True)
    spec = RigSpec(system=prepared.system, profiles=prepared.profiles, kit=prepared.kit, clock=clock, attended=True)
    rig = Stand("by-hand", spec).open()
    header = Header(
        tool="test", run="a", start="2026-01-01T00:00:00+00:00", tested_on=rig.tested_on, rig=rig.name,
        system="trainer-mockup", kit="by-hand", source=rig.bounds,
    )  # fmt: skip
    person = Person(clock, answers, leaves)
    person.hasty = hasty
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header, person.show), attended=True, here=rig.premises.here)
    turn(session, rig, person, clock=clock)
    reading = read(log.contents())
    lines = list(reading.lines)
    assert (reading.complete, reading.damage) == (True, [])
    stored = [(line.of, line.id, line.verdict) for line in lines if isinstance(line, VerdictLine)]
    anew = judge([line for line in lines if not isinstance(line, VerdictLine)], closed=True)
    assert [(line.of, line.id, line.verdict) for line in anew] == stored
    return lines, person, session


def verdict_of(lines: list[AnyLine], sequence: str) -> Verdict:
    return next(
        line.verdict for line in lines if isinstance(line, VerdictLine) and (line.of, line.id) == (sequence, "")
    )


def test_a_fan_that_is_heard_to_follow_its_call_passes_and_the_log_says_on_what() -> None:
    lines, person, _ = ran("fan", {"G": {"blower": 900}})

    assert verdict_of(lines, "fan") is Verdict.PASS
    assert isinstance(lines[0], Header)
    assert (lines[0].tested_on, lines[0].rig) == ("bench", "by-hand")
    assert "Make the call: join R to G. Press Enter at that moment." in person.said


def test_a_fan_that_is_never_heard_fails() -> None:
    lines, _, _ = ran("fan", {})

    assert verdict_of(lines, "fan") is Verdict.FAIL


def test_cooling_by_hand_is_judged_by_what_is_heard_and_read() -> None:
    lines, _, _ = ran("cool-one-stage", {"Y1": COOLING})

    failed = [line.id for line in lines if isinstance(line, VerdictLine) and line.verdict is Verdict.FAIL]
    split = [line.value for line in lines if isinstance(line, Reading) and line.point == "air_split"]
    assert [line.point for line in lines if isinstance(line, Edge)][:4] == sorted(COOLING, key=COOLING.__getitem__)
    assert len(split) > 3
    assert split[0] == pytest.approx(-11.11, abs=0.01)
    assert failed == []


def test_a_person_who_breaks_off_is_told_to_end_the_call() -> None:
    lines, person, session = ran("fan", {"G": {"blower": 900}}, leaves=40_000)

    assert session.interrupted
    assert "End the call: take G off R. Press Enter at that moment." in person.said[-3:]
    assert [line.state for line in lines if isinstance(line, Call)] == ["on", "off"]
    assert any(isinstance(line, SequenceMark) and line.cut_short for line in lines)


def test_what_was_pressed_by_mistake_and_taken_back_is_not_judged() -> None:
    lines, person, _ = ran("fan", {"G": {"blower": 8_000}}, hasty=True)

    assert "Taken back: blower on." in person.said
    assert [line.state for line in lines if isinstance(line, Edge)] == ["on", "off"]
    assert verdict_of(lines, "fan") is Verdict.PASS
