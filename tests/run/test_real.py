"""A run on a bench or on equipment: what is asked first, what is refused, and what ends it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

import msgspec
import pytest

from rigs.hand_rig import HandRig
from run.test_session import MINUTE, assert_replays_alike, sequence, turns, verdicts
from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.equipment import Equipment
from stagecall.model.event import Answer, AnyLine, Call, Header, Note, Question, Refusal, SequenceMark, Wait
from stagecall.model.kit import Kit
from stagecall.model.sequence import Condition
from stagecall.model.system import Control, Energy, ShutOff, System
from stagecall.model.verdict import Verdict
from stagecall.record import Log, document, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.guard import Circumstances, DryRun, Guarded, Premises
from stagecall.run.ledger import Ledger
from stagecall.run.loop import Silent, turn
from stagecall.run.prepare import Prepared
from stagecall.run.session import Session
from stagecall.units import Range

QUESTIONS = ("CAUTIONS", "fuel: live", "will be ordered", "old control", "Meter each")
LIVE = Circumstances(ground="live", dry_run=DryRun(run="earlier"), fuel=True)
DRY = Circumstances(ground="dry")
MOCKUP = Circumstances(ground="mockup")
STATES = {"blower": "off", "flame": "off", "gas_valve": "off"}
FURNACE = Equipment(equipment="f", title="", what="furnace", terminals=("R", "C", "W", "G"), parts={}, wiring=())
HEAT_PUMP = msgspec.structs.replace(FURNACE, what="heat_pump")
SYSTEM = System(
    system="house",
    title="A house",
    scenario="made for a test",
    energy=Energy(fuel="live", compressor="none", elements="none"),
    shut_off=ShutOff(fuel="the yellow cock left of the furnace", breaker="number 14 in the cellar"),
    control=Control(terminals=("R", "C", "G", "W1", "Y1")),
    equipment={},
    conductors=(),
)


class Yes(Silent):
    """Says yes to every question, but for those that hold one of the words of ``no``."""

    def __init__(self, no: str = "") -> None:
        self.no = no
        self.asked: list[str] = []
        self.alarms: list[str] = []
        self._answers: list[str] = []

    def show(self, line: AnyLine) -> None:
        if isinstance(line, Question):
            self.asked.append(line.text)
            self._answers.append("no" if self.no and self.no in line.text else "yes")

    def typed(self) -> list[str]:
        answers, self._answers = self._answers, []
        return answers

    def alarm(self, text: str) -> None:
        self.alarms.append(text)


class Wired(HandRig):
    """A rig in steps of a second whose ``wires`` follow its calls, and whose flame follows W1 after 2 s."""

    tested_on = "equipment"
    runs_ahead = False

    def __init__(self, states: Mapping[str, str] = STATES) -> None:
        super().__init__(dict(states))

    def _advance(self, until: int):  # type: ignore[no-untyped-def]
        return super()._advance(min(until, self.now + 1000))


def ran(
    rig: HandRig,
    here: Circumstances,
    *sequences: plan.Sequence,
    person: Yes | None = None,
    profile: Equipment = FURNACE,
    system: System = SYSTEM,
) -> tuple[list[AnyLine], Yes]:
    prepared = Prepared(
        system=system,
        profiles={"f": profile},
        kit=Kit(kit="none", title="", points={}),
        sequences=sequences,
        monitors=(),
        documents=tuple(document("sequence", one.name, "", one) for one in sequences),
    )
    header = Header(
        tool="test", run="a", start="2026-01-01T00:00:00+00:00", tested_on=rig.tested_on, rig=rig.name, system="house",
        kit="none", source=rig.bounds,
    )  # fmt: skip
    person = person or Yes()
    log = Log.in_memory(header)
    session = Session(prepared, Ledger(log, Judge(), header, person.show), attended=here.attended, here=here)
    guard = Guarded(rig, Premises(here=here))
    turn(session, guard, person, clock=HandClock(datetime(2026, 1, 1, tzinfo=UTC)))
    lines = list(read(log.contents()).lines)
    assert_replays_alike(lines)
    return lines, person


def step(slug: str, calls: tuple[str, ...], *expect: plan.Form, **more: object) -> plan.Step:
    return plan.Step(slug=slug, title=slug, calls=calls, expect=expect, **more)  # type: ignore[arg-type]


def heat(name: str = "heat", high: int = 5_000) -> plan.Sequence:
    return named(
        name, step("call", ("W1",), turns("flame", "on", high), until=Condition("flame", "on")), step("end", ())
    )


def fan(name: str = "fan") -> plan.Sequence:
    return named(name, step("call", ("G",), lasts=5_000), step("end", ()))


def named(name: str, *steps: plan.Step, **more: object) -> plan.Sequence:
    return msgspec.structs.replace(sequence(*steps, **more), name=name)


def refusals(lines: list[AnyLine]) -> list[str]:
    return [line.because for line in lines if isinstance(line, Refusal)]


def calls(lines: list[AnyLine]) -> list[str]:
    return [f"{line.terminal} {line.state}" for line in lines if isinstance(line, Call)]


def cut(lines: list[AnyLine]) -> dict[str, str]:
    return {line.name: line.cut_short for line in lines if isinstance(line, SequenceMark) and line.cut_short}


def test_before_the_first_call_a_person_confirms_all_that_a_live_system_needs() -> None:
    lines, person = ran(Wired(), LIVE, fan())

    asked = "\n---\n".join(person.asked)
    assert all(word in asked for word in QUESTIONS)
    assert "SHUT THE FUEL: the yellow cock left of the furnace." in asked
    assert [line.value for line in lines if isinstance(line, Answer)] == ["yes"] * 5
    first_call = next(line.n for line in lines if isinstance(line, Call))
    assert all(line.n < first_call for line in lines if isinstance(line, Question))


@pytest.mark.parametrize("no", QUESTIONS)
def test_a_no_ends_the_run_with_nothing_called(no: str) -> None:
    rig = Wired()

    lines, _ = ran(rig, LIVE, fan(), person=Yes(no))

    assert rig.moves == []
    assert len(refusals(lines)) == 1
    assert verdicts(lines)["fan"] is Verdict.NOT_VERIFIED


def test_call_wires_that_are_seen_are_watched_for_a_minute_instead_of_asked_for() -> None:
    rig = Wired({**STATES, "wire_W1": "off", "wire_G": "off"})

    lines, person = ran(rig, DRY, fan())

    assert not any("Meter" in text for text in person.asked)
    assert next(line.t for line in lines if isinstance(line, Call)) >= MINUTE


@pytest.mark.parametrize("at_once", [True, False])
def test_a_wire_that_is_live_before_the_first_call_ends_the_run(at_once: bool) -> None:
    rig = Wired({**STATES, "wire_W1": "on" if at_once else "off"})
    if not at_once:
        rig.edge(30_000, "wire_W1", "on")

    lines, _ = ran(rig, DRY, fan())

    assert rig.moves == []
    assert len(refusals(lines)) == 1
    assert refusals(lines)[0].startswith("W1 ")


@pytest.mark.parametrize(
    ("profile", "calls_made", "wire", "stops"),
    [
        (FURNACE, ("G",), "wire_W1", True),
        (FURNACE, ("G",), "wire_G", False),
        (HEAT_PUMP, ("Y1", "G"), "wire_W1", False),
        (HEAT_PUMP, ("G",), "wire_W1", True),
        (msgspec.structs.replace(FURNACE, points={"leak_alarm": {}}), (), "wire_G", False),
    ],
)
def test_a_call_that_we_did_not_make_stops_everything_unless_it_is_explained(
    profile: Equipment, calls_made: tuple[str, ...], wire: str, stops: bool
) -> None:
    rig = Wired({**STATES, "wire_W1": "off", "wire_G": "off"})
    long = named("long", step("call", calls_made, lasts=60_000), step("end", ()))
    rig.edge(8 * MINUTE, wire, "on")

    lines, _ = ran(rig, MOCKUP, named("before", step("wait", (), lasts=6 * MINUTE + 30_000)), long, profile=profile)

    assert (refusals(lines) != []) == stops
    assert rig.calls == frozenset()
    if stops:
        assert "a second control is at work" in refusals(lines)[0]
        assert "long" in cut(lines)


@pytest.mark.parametrize("point", ["flame", "gas_valve"])
def test_flame_or_gas_with_no_call_fills_the_screen_with_the_systems_own_order(point: str) -> None:
    rig = Wired()
    rig.edge(20_000, point, "on")

    lines, person = ran(rig, LIVE, named("wait", step("wait", ("G",), lasts=2 * MINUTE)))

    (alarm,) = person.alarms
    assert alarm.splitlines() == [
        "FLAME OR GAS WITH NO CALL.",
        "SHUT THE FUEL: the yellow cock left of the furnace.",
        "SWITCH OFF THE BREAKER: number 14 in the cellar.",
        "Smell gas? Touch no switch, get everybody out, call the supplier from outside.",
    ]
    assert refusals(lines) == ["flame or gas was seen with no call"]
    assert rig.calls == frozenset()


@pytest.mark.parametrize(("off_after", "alarmed"), [(4_000, False), (30_000, True)])
def test_a_flame_that_outlasts_its_call_by_more_than_it_may_is_one_with_no_call(off_after: int, alarmed: bool) -> None:
    class Burner(Wired):
        def _move(self, move):  # type: ignore[no-untyped-def]
            before = "W1" in self.calls
            super()._move(move)
            if "W1" in self.calls and not before:
                self.edge(self.now + 2_000, "flame", "on")
            if before and "W1" not in self.calls:
                self.edge(self.now + off_after, "flame", "off")

    _, person = ran(Burner(), LIVE, heat(), named("wait", step("wait", ("G",), lasts=MINUTE)))

    assert bool(person.alarms) == alarmed


def test_after_heat_was_dropped_for_safety_a_person_is_asked_once_after_five_minutes() -> None:
    rig = Wired()

    lines, person = ran(rig, LIVE, heat("first"), fan(), heat("second"))

    asked = [line for line in lines if isinstance(line, Question) and "dropped for safety" in line.text]
    dropped = next(line.t for line in lines if isinstance(line, Call) and (line.terminal, line.state) == ("W1", "off"))
    assert len(asked) == 1
    assert asked[0].t - dropped >= 5 * MINUTE - 10_000
    assert "No smell of gas" in asked[0].text
    assert calls(lines) == ["W1 on", "W1 off", "G on", "G off", "W1 on", "W1 off"]
    assert any("smell check" in line.because for line in lines if isinstance(line, Wait))
    assert person.alarms == []


def test_where_nobody_says_that_it_may_nothing_calls_for_heat_again() -> None:
    lines, person = ran(
        Wired(), LIVE, heat("first"), heat("second"), heat("third"), fan(), person=Yes("dropped for safety")
    )

    assert calls(lines) == ["W1 on", "W1 off", "G on", "G off"]
    assert sum("dropped for safety" in text for text in person.asked) == 1
    assert set(cut(lines)) == {"first", "second", "third"}


def test_what_was_locked_out_on_purpose_is_reset_by_a_person_and_never_by_the_program() -> None:
    lines, person = ran(
        Wired(), DRY, named("lock", step("call", ("G",), lasts=2_000), clears="ignition_lockout"), fan()
    )

    assert any("ignition lockout was made on purpose" in text for text in person.asked)
    assert not any("plays the person" in line.text for line in lines if isinstance(line, Note))


def test_what_the_table_refuses_is_not_begun_and_the_rest_runs() -> None:
    trials = named("trials", step("call", ("W1",), lasts=2_000), clears="ignition_lockout")

    lines, _ = ran(Wired(), LIVE, trials, fan())

    assert refusals(lines) == ["trials: trips and trials until a lockout are not made on live equipment: see them dry"]
    assert calls(lines) == ["G on", "G off"]
    assert verdicts(lines)["trials"] is Verdict.NOT_VERIFIED


def test_power_is_cut_once_on_live_equipment() -> None:
    cuts = [
        named(name, step("off", (), power="off", lasts=2_000), step("on", (), power="on")) for name in ("one", "two")
    ]

    lines, _ = ran(Wired(), LIVE, *cuts)

    assert set(cut(lines)) == {"two"}


def test_weather_is_asked_for_once_and_what_it_does_not_suit_is_not_begun() -> None:
    warm = {"outdoor_air": Range(20.0, 40.0)}
    steps = step("call", ("G",), lasts=2_000)

    lines, person = ran(
        Wired(), DRY, named("a", steps, conditions=warm), named("b", steps, conditions=warm), person=Yes("outdoor air")
    )

    assert sum("outdoor air" in text for text in person.asked) == 1
    assert set(cut(lines)) == {"a", "b"}
    assert calls(lines) == []


@pytest.mark.parametrize("seen", [True, False])
def test_a_switch_that_was_opened_is_seen_closed_again_or_a_person_says_so(seen: bool) -> None:
    rig = Wired({**STATES, "limit": "closed"} if seen else STATES)
    if seen:
        rig.edge(3_000, "limit", "open")
        rig.edge(60_000, "limit", "closed")
    opening = named("limit", step("open", (), open_switch="limit", lasts=2_000), step("close", (), restore="limit"))

    _, person = ran(rig, MOCKUP, opening)

    asked = [text for text in person.asked if text.startswith("The switch limit")]
    assert bool(asked) is True
    assert ("is not seen closed" if seen else "cannot be seen") in asked[0]
    assert rig.now >= 60_000 or not seen


def test_unattended_a_mockup_is_run_without_questions() -> None:
    lines, person = ran(Wired(), Circumstances(ground="mockup", attended=False), fan())

    assert person.asked == []
    assert calls(lines) == ["G on", "G off"]
    assert any(line.text.startswith("CAUTIONS") for line in lines if isinstance(line, Note))


def test_at_the_control_it_stays_and_is_asked_to_be_idle() -> None:
    _, person = ran(Wired(), msgspec.structs.replace(MOCKUP, at_control=True), fan())

    assert [text for text in person.asked if "control" in text] == ["Does the control call nothing now?"]


def test_whoever_leaves_before_all_is_off_finds_it_in_the_log() -> None:
    class Gone(Yes):
        def interrupted(self) -> bool:
            gone, self.gone = self.gone, False
            return gone

        def alarm(self, text: str) -> None:
            super().alarm(text)
            self.gone = True

        gone = False

    rig = Wired()
    rig.edge(20_000, "flame", "on")

    lines, _ = ran(rig, LIVE, named("wait", step("wait", ("G",), lasts=2 * MINUTE)), person=Gone())

    assert "interrupted before all calls were seen to be off" in [line.text for line in lines if isinstance(line, Note)]
