"""The script of a run, driven on a rig that a test turns by hand."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import msgspec
import pytest

from rigs.hand_rig import HandRig
from stagecall.errors import LogWriteError
from stagecall.judge import Judge, judge
from stagecall.model import plan
from stagecall.model.event import (
    AnyLine,
    Call,
    Edge,
    Header,
    Note,
    PointBounds,
    Refusal,
    Request,
    SequenceMark,
    Settled,
    SourceBounds,
    StepMark,
    VerdictLine,
    Wait,
)
from stagecall.model.kit import Kit
from stagecall.model.sequence import Condition
from stagecall.model.system import Control, Energy, System
from stagecall.model.verdict import Verdict
from stagecall.record import Log, document, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.contract import Move, Rig
from stagecall.rigs.faulty import FaultyRig
from stagecall.rigs.guard import Guarded, Premises
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared
from stagecall.run.session import Session
from stagecall.units import Range

T = TypeVar("T")
MINUTE = 60_000
SYSTEM = System(
    system="bare",
    title="Nothing but a control",
    scenario="made for a test",
    energy=Energy(fuel="none", compressor="none", elements="none"),
    control=Control(terminals=("R", "C", "Y1", "G")),
    equipment={},
    conductors=(),
)


def within(name: str, high: int | None, low: int | None = None) -> plan.ResolvedLimit:
    return plan.ResolvedLimit(name=name, range=Range(low, high))


def turns(point: str, state: str, high: int, number: int = 1) -> plan.Turns:
    return plan.Turns(
        id=f"step.{number}", text=f"{point} turns {state}", turns=Condition(point, state), within=within("w", high)
    )


def sequence(*steps: plan.Step, **more: object) -> plan.Sequence:
    return plan.Sequence(name="try", title="Try", group="fan", steps=steps, must_run=True, **more)  # type: ignore[arg-type]


class Person(Silent):
    """Answers Enter at once, and may interrupt at a moment of the log."""

    def __init__(self, interrupt_at: int | None = None, enters: int = 0) -> None:
        self.seen: list[AnyLine] = []
        self.prompts: list[str] = []
        self._interrupt_at, self._enters = interrupt_at, enters

    def show(self, line: AnyLine) -> None:
        self.seen.append(line)

    def interrupted(self) -> bool:
        if self._interrupt_at is not None and self.seen and self.seen[-1].t >= self._interrupt_at:
            self._interrupt_at = None
            return True
        return False

    def tell(self, text: str) -> None:
        self.prompts.append(text)

    def typed(self) -> list[str]:
        return [""] if len(self.prompts) <= self._enters and self.prompts else []


def ran(
    rig: Rig,
    *sequences: plan.Sequence,
    person: Person | None = None,
    pace: float | None = None,
    step_by_step: bool = False,
    attended: bool = False,
    clock: HandClock | None = None,
) -> tuple[list[AnyLine], Session]:
    prepared = Prepared(
        system=SYSTEM,
        profiles={},
        kit=Kit(kit="none", title="", points={}),
        sequences=sequences,
        monitors=(),
        documents=tuple(document("sequence", one.name, "", one) for one in sequences),
    )
    header = Header(
        tool="test", run="a", start="2026-01-01T00:00:00+00:00", tested_on="model", rig=rig.name, system="bare",
        kit="none", source=rig.bounds,
    )  # fmt: skip
    person = person or Person()
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header, person.show), step_by_step=step_by_step, attended=attended)
    clock = clock or HandClock(datetime(2026, 1, 1, tzinfo=UTC))
    turn(session, Guarded(rig, Premises()), person, clock=clock, pace=pace)
    reading = read(log.contents())
    lines = list(reading.lines)
    assert reading.complete
    assert not reading.damage
    assert_replays_alike(lines)
    return lines, session


def assert_replays_alike(lines: list[AnyLine]) -> None:
    stored = [line for line in lines if isinstance(line, VerdictLine)]
    anew = judge([line for line in lines if not isinstance(line, VerdictLine)], closed=True)

    assert [bare(line) for line in anew] == [bare(line) for line in stored]


def bare(line: VerdictLine) -> VerdictLine:
    return msgspec.structs.replace(line, n=-1)


def verdicts(lines: list[AnyLine]) -> dict[str, Verdict]:
    return {line.id or line.of: line.verdict for line in lines if isinstance(line, VerdictLine)}


def of_type(lines: list[AnyLine], kind: type[T]) -> list[T]:
    return [line for line in lines if isinstance(line, kind)]


FAN_ON = plan.Step(slug="on", title="Call the fan", calls=("G",), expect=(turns("blower", "on", 10_000),))
FAN_OFF = plan.Step(slug="off", title="Drop it", calls=(), expect=(turns("blower", "off", 10_000, 2),))


def blower_rig(*edges: tuple[int, str]) -> HandRig:
    rig = HandRig({"blower": "off", "contactor": "off"})
    for t, state in edges:
        rig.edge(t, "blower", state)
    return rig


def test_a_step_ends_when_all_that_has_a_window_has_settled() -> None:
    lines, _ = ran(blower_rig((3_000, "on"), (6_000, "off")), sequence(FAN_ON, FAN_OFF))

    ends = [(mark.step, mark.t) for mark in of_type(lines, StepMark) if mark.phase == "end"]
    assert ends == [("on", 4_000), ("off", 7_000)]
    assert verdicts(lines)["try"] is Verdict.PASS


def test_a_step_whose_answer_never_comes_ends_at_its_deadline_and_fails() -> None:
    lines, _ = ran(blower_rig(), sequence(FAN_ON))

    assert verdicts(lines)["step.1"] is Verdict.FAIL
    end = next(mark for mark in of_type(lines, StepMark) if mark.phase == "end")
    assert 10_000 <= end.t <= 10_100


def test_settled_lines_fall_on_every_half_minute_of_source_time_whatever_the_pace() -> None:
    rigs = [blower_rig((33_000, "on")) for _ in range(2)]
    step = plan.Step(slug="on", title="Call", calls=("G",), expect=(turns("blower", "on", 60_000),), keep=70_000)

    fast, _ = ran(rigs[0], sequence(step))
    paced, _ = ran(rigs[1], sequence(step), pace=7.0)

    assert [line.t for line in of_type(fast, Settled)][:3] == [30_000, 60_000, 90_000]
    assert paced == fast


def test_a_step_that_others_rely_on_cuts_the_rest_short_and_accuses_nothing_else() -> None:
    relied = msgspec.structs.replace(FAN_ON, until=Condition("blower", "on"))

    lines, _ = ran(blower_rig(), sequence(relied, FAN_OFF))

    assert verdicts(lines)["step.1"] is Verdict.FAIL
    assert verdicts(lines)["step.2"] is Verdict.NOT_VERIFIED
    end = next(mark for mark in of_type(lines, SequenceMark) if mark.phase == "end")
    assert end.cut_short == "blower on never came"


def test_a_wait_of_the_guard_prolongs_the_ending_step_and_is_written_down() -> None:
    first = plan.Step(slug="fan", title="Fan", calls=("G",), lasts=1_000, expect=(turns("blower", "on", 1_000),))
    second = plan.Step(slug="cool", title="Cool", calls=("G", "Y1"), lasts=1_000, challenge=None)
    rig = blower_rig((100, "on"))
    prepared = sequence(first, msgspec.structs.replace(second, challenge="minimum_off"), second)

    lines, _ = ran(rig, prepared)

    wait = of_type(lines, Wait)[0]
    begin = next(m for m in of_type(lines, StepMark) if m.step == "fan" and m.phase == "begin")
    assert wait.until == 5 * MINUTE
    assert begin.t >= 5 * MINUTE


def test_what_the_guard_waits_for_in_vain_ends_the_sequence() -> None:
    rig = HandRig({"compressor": "off"})
    for minute in range(0, 24 * 60, 4):
        rig.edge(minute * MINUTE + 1_000, "compressor", "on")
        rig.edge(minute * MINUTE + 2_000, "compressor", "off")
    cool = plan.Step(slug="cool", title="Cool", calls=("Y1",), lasts=1_000)

    lines, _ = ran(rig, sequence(cool))

    end = next(mark for mark in of_type(lines, SequenceMark) if mark.phase == "end")
    assert end.cut_short.startswith("the guard would not let it through within 1:30:00 h: ")
    assert 90 * MINUTE <= end.t < 110 * MINUTE
    assert not any(request.calls for request in of_type(lines, Request))


def test_every_request_stands_in_the_log_before_its_relay_moves() -> None:
    lines, _ = ran(blower_rig((3_000, "on"), (6_000, "off")), sequence(FAN_ON, FAN_OFF))

    kinds = [type(line).__name__ for line in lines if type(line).__name__ in {"Request", "Call"}]
    assert kinds == ["Request", "Call", "Request", "Call"]


def test_what_the_guard_refuses_is_told_and_ends_the_sequence() -> None:
    both = plan.Step(slug="both", title="Both", calls=("W1", "Y1"), challenge="minimum_off", lasts=1_000)

    lines, _ = ran(blower_rig(), sequence(both, FAN_OFF))

    assert [refusal.because for refusal in of_type(lines, Refusal)] == [
        "W1 and Y1 together: heat never runs against cooling on this system"
    ]
    assert verdicts(lines)["try"] is Verdict.NOT_VERIFIED


@pytest.mark.parametrize("pace", [None, 50.0])
@pytest.mark.parametrize("moment", [0, 1_000, 5_000, 301_000, 302_000])
def test_ctrl_c_at_any_moment_ends_with_all_calls_off_and_a_whole_log(moment: int, pace: float | None) -> None:
    rig = blower_rig((302_000, "on"))
    cool = plan.Step(slug="cool", title="Cool", calls=("G", "Y1"), expect=(turns("blower", "on", 30_000),), keep=60_000)

    lines, session = ran(rig, sequence(cool), person=Person(interrupt_at=moment), pace=pace)

    assert session.interrupted
    assert rig.calls == frozenset()
    assert verdicts(lines)[""] is Verdict.NOT_VERIFIED
    assert rig.closed


@pytest.mark.parametrize("moment", [1_000, 5_000, 301_000, 302_000, 330_000])
def test_a_rig_lost_while_all_is_called_off_still_leaves_a_whole_log(moment: int) -> None:
    rig = FaultyRig(blower_rig((302_000, "on")), "deaf", at=moment)
    cool = plan.Step(slug="cool", title="Cool", calls=("G", "Y1"), expect=(turns("blower", "on", 30_000),), keep=60_000)

    _, session = ran(rig, sequence(cool), person=Person(interrupt_at=moment), pace=50.0)

    assert session.interrupted or session.lost


def test_whatever_breaks_the_loop_all_calls_are_off() -> None:
    rig = blower_rig((3_000, "on"))

    class Broken(Person):
        def show(self, line: AnyLine) -> None:
            if isinstance(line, Edge):
                raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        ran(rig, sequence(FAN_ON, FAN_OFF), person=Broken())

    assert rig.calls == frozenset()
    assert rig.closed


def test_while_a_person_is_asked_the_time_of_a_model_stands_still() -> None:
    class Slow(Person):
        looks = 0

        def typed(self) -> list[str]:
            self.looks += 1
            return ["yes"] if self.looks == 200 else []

    ask = plan.Ask(id="step.9", text="the fan is heard", ask="Is the fan heard?")
    step = plan.Step(slug="ask", title="Ask", calls=("G",), expect=(ask,))

    lines, _ = ran(blower_rig(), sequence(step), person=Slow(), attended=True)

    assert verdicts(lines)["step.9"] is Verdict.PASS
    assert lines[-1].t < 1_000


def test_step_by_step_waits_for_enter_with_the_reason_and_says_so_in_the_log() -> None:
    person = Person(enters=9)
    step = msgspec.structs.replace(FAN_ON, because="The simplest call there is.")

    lines, _ = ran(blower_rig((3_000, "on"), (6_000, "off")), sequence(step, FAN_OFF), person=person, step_by_step=True)

    enter = "\nEnter: go on. Ctrl-C: break off."
    assert person.prompts == ["Call the fan\nThe simplest call there is." + enter, "Drop it" + enter]
    assert [line.phase for line in lines if type(line).__name__ == "Pause"] == ["begin", "end"] * 2


@pytest.mark.parametrize("at", [0, 1, 2_000, 3_500, 5_500])
def test_a_lost_rig_leaves_a_whole_log_that_says_so(at: int) -> None:
    rig = FaultyRig(blower_rig((3_000, "on"), (6_000, "off")), "lost", at=at)

    lines, session = ran(rig, sequence(FAN_ON, msgspec.structs.replace(FAN_OFF, keep=60_000)))

    assert session.lost is not None
    assert [type(line).__name__ for line in lines].count("Gap") == 1
    assert verdicts(lines)[""] is not Verdict.PASS


def test_a_relay_that_does_not_move_is_a_lost_rig() -> None:
    lines, session = ran(FaultyRig(blower_rig(), "deaf", at=0), sequence(FAN_ON))

    assert str(session.lost) == "G did not move within 2 s"
    assert verdicts(lines)["try"] is Verdict.NOT_VERIFIED


def test_events_lost_on_the_way_are_no_evidence() -> None:
    rig = FaultyRig(blower_rig((3_000, "on")), "gap", at=2_000, length=4_000)

    lines, _ = ran(rig, sequence(FAN_ON))

    assert verdicts(lines)["step.1"] is Verdict.NOT_VERIFIED


def test_a_log_that_cannot_be_written_any_more_still_ends_with_all_calls_off(monkeypatch: pytest.MonkeyPatch) -> None:
    rig = blower_rig((3_000, "on"))
    append = Log.append

    def full(self: Log, line: AnyLine) -> AnyLine:
        if isinstance(line, Edge):
            raise LogWriteError("the disk is full")
        return append(self, line)

    monkeypatch.setattr(Log, "append", full)

    with pytest.raises(LogWriteError):
        ran(rig, sequence(FAN_ON, FAN_OFF))

    assert rig.calls == frozenset()
    assert rig.closed


def test_between_sequences_everything_is_put_back_to_normal() -> None:
    cut = plan.Step(slug="cut", title="Cut the power", calls=("G",), power="off", open_switch="limit", lasts=1_000)
    rig = blower_rig()

    lines, _ = ran(rig, sequence(cut))

    assert [move for _, move in rig.moves][-3:] == [
        Move(calls=frozenset()),
        Move(restore="limit"),
        Move(power="on"),
    ]
    assert of_type(lines, Request)[-1].power == "on"


def test_the_guard_is_asked_for_its_earliest_moment_before_a_cooling_sequence_begins() -> None:
    cool = plan.Step(slug="cool", title="Cool", calls=("Y1",), lasts=1_000)

    lines, _ = ran(blower_rig(), sequence(cool))

    begin = next(mark for mark in of_type(lines, SequenceMark) if mark.phase == "begin")
    assert begin.t >= 5 * MINUTE


def test_a_limit_narrower_than_the_rig_resolves_is_told_before_the_start_and_the_rest_runs() -> None:
    rig = blower_rig((3_000, "on"))
    rig.bounds = msgspec.structs.replace(rig.bounds, points={"blower": PointBounds(sensed="amps", late_on=(0, 900))})
    expect = (turns("blower", "on", 500), turns("blower", "on", 9_000, 2))
    narrow = plan.Step(slug="on", title="On", calls=("G",), expect=expect)

    lines, _ = ran(rig, sequence(narrow))

    notes = [(line.text, i) for i, line in enumerate(lines) if isinstance(line, Note)]
    begins = [i for i, line in enumerate(lines) if isinstance(line, SequenceMark)]
    assert [text for text, _ in notes] == [
        "try: 'blower turns on' cannot be decided here: the times are known to 900 ms, the limit leaves 500 ms"
    ]
    assert notes[0][1] < begins[0]
    assert verdicts(lines)["step.2"] is Verdict.PASS


def test_what_cannot_be_seen_is_given_its_whole_window_before_the_next_step() -> None:
    unseen = turns("inducer", "on", 30_000, 2)
    step = msgspec.structs.replace(FAN_ON, expect=(*FAN_ON.expect, unseen))

    lines, _ = ran(blower_rig((3_000, "on"), (40_000, "off")), sequence(step, FAN_OFF))

    end = next(mark for mark in of_type(lines, StepMark) if mark.phase == "end")
    assert end.t == 30_005


class Slow:
    """A clock that a disk holds up: writing the line at ``at`` takes ``long`` ms."""

    def __init__(self, at: int, long: int) -> None:
        self.clock = HandClock(datetime(2026, 1, 1, tzinfo=UTC))
        self._at, self._long = at, long

    def show(self, line: AnyLine) -> None:
        if self._long and line.t >= self._at:
            long, self._long = self._long, 0
            self.clock.sleep_ms(long)


@pytest.mark.parametrize(("long", "lost"), [(940, False), (950, True)])
def test_a_disk_that_holds_the_run_up_past_the_heartbeat_has_cost_the_rig_and_it_is_said(long: int, lost: bool) -> None:
    rig = blower_rig((3_000, "on"), (6_000, "off"))
    rig.heartbeat = 950
    slow = Slow(2_000, long)
    person = Person()
    person.show = slow.show  # type: ignore[method-assign]

    lines, session = ran(rig, sequence(FAN_ON, FAN_OFF), person=person, clock=slow.clock)

    said = [line.text for line in lines if isinstance(line, Note)]
    assert (session.lost is not None) == lost
    assert any("writing the log took 950 ms" in text for text in said) == lost
    assert rig.calls == frozenset()


def test_on_a_full_disk_all_calls_go_off_and_the_log_is_closed_in_its_reserve(tmp_path: Path) -> None:
    header = Header(
        tool="test", run="a", start="2026-01-01T00:00:00+00:00", tested_on="bench", rig="hand", system="bare",
        kit="none", source=SourceBounds(points={"blower": PointBounds(sensed="contact")}),
    )  # fmt: skip
    prepared = Prepared(
        system=SYSTEM, profiles={}, kit=Kit(kit="none", title="", points={}), monitors=(),
        sequences=(one := sequence(FAN_ON, FAN_OFF),), documents=(document("sequence", one.name, "", one),),
    )  # fmt: skip
    rig = blower_rig((3_000, "on"), (6_000, "off"))
    log = Log.create(tmp_path / "a.run.jsonl", header, real_time=True)
    session = Session(prepared, Ledger(log, Judge(), header))
    write, full_from = os.write, 2_000

    def on_a_full_disk(handle: int, chunk: bytes) -> int:
        if rig.now >= full_from and (tmp_path / "a.run.jsonl.reserve").exists():
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(handle, chunk)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "write", on_a_full_disk)
        turn(session, Guarded(rig, Premises()), Silent(), clock=HandClock(datetime(2026, 1, 1, tzinfo=UTC)))

    reading = read(tmp_path / "a.run.jsonl")
    lines = list(reading.lines)
    assert session.full is not None
    assert (reading.complete, reading.damage, rig.calls) == (True, [], frozenset())
    assert [line.cut_short for line in lines if isinstance(line, SequenceMark)][-1] == "the disk is full"
    assert [line.state for line in lines if isinstance(line, Call)] == ["on", "off"]
    assert_replays_alike(lines)
