"""A dry run as evidence, and what of a sequence is made where energy is shut off."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import msgspec
import pytest

from run.test_real import DRY, SYSTEM, Wired, Yes, named, step
from run.test_session import turns
from stagecall.errors import UsageError
from stagecall.judge import Judge
from stagecall.model import plan
from stagecall.model.event import Header
from stagecall.model.kit import Kit
from stagecall.model.sequence import Condition
from stagecall.model.system import Energy, System
from stagecall.record import Log, LogReading, document, read
from stagecall.rigs.clock import HandClock
from stagecall.rigs.guard import Circumstances, DryRun, Guarded, Premises
from stagecall.run.dry import dry_run
from stagecall.run.fitting import fitted_to, refused
from stagecall.run.ledger import Ledger
from stagecall.run.loop import turn
from stagecall.run.prepare import Prepared
from stagecall.run.session import Session

SHUT = msgspec.structs.replace(SYSTEM, energy=Energy(fuel="shut_off", compressor="none", elements="none"))
FAN = named("fan", step("call", ("G",), turns("blower", "on", 5_000)), step("end", ()))


def blower(*, dead: bool = False) -> Wired:
    class Fan(Wired):
        def _move(self, move):  # type: ignore[no-untyped-def]
            super()._move(move)
            if move.calls is not None and not dead:
                self.edge(self.now + 800, "blower", "on" if "G" in move.calls else "off")

    return Fan()


def contents(rig: Wired, *sequences: plan.Sequence, system: System = SHUT, tested_on: str = "equipment") -> bytes:
    header = Header(
        tool="test", run="dry1", start="2026-01-01T00:00:00+00:00", tested_on=tested_on, rig="hand", system="house",
        kit="none", source=rig.bounds,
    )  # type: ignore[arg-type]  # fmt: skip
    prepared = Prepared(
        system=system, profiles={}, kit=Kit(kit="none", title="", points={}), sequences=sequences, monitors=(),
        documents=(document("system", "house", "", system), *(document("sequence", s.name, "", s) for s in sequences)),
    )  # fmt: skip
    log = Log.in_memory(header)
    person = Yes()
    session = Session(prepared, Ledger(log, Judge(), header, person.show), attended=True, here=DRY)
    turn(session, Guarded(rig, Premises(here=DRY)), person, clock=HandClock(datetime(2026, 1, 1, tzinfo=UTC)))
    return log.contents()


def log_of(rig: Wired, *sequences: plan.Sequence, **more: Any) -> LogReading:
    return read(contents(rig, *sequences, **more))


def test_a_clean_log_of_the_same_system_shut_off_is_evidence() -> None:
    assert dry_run(log_of(blower(), FAN), SYSTEM, "log") == DryRun(run="dry1", early_restart=False)


def test_an_early_restart_that_passed_dry_is_evidence_for_one() -> None:
    early = named(
        "early",
        step("first", ("G",), turns("blower", "on", 5_000)),
        step("again", (), turns("blower", "off", 5_000, 2), challenge="minimum_off"),
    )

    assert dry_run(log_of(blower(), early), SYSTEM, "log").early_restart


UNFIT: dict[str, Callable[[], LogReading]] = {
    "failed there: fan": lambda: log_of(blower(dead=True), FAN),
    "it was tested on: model": lambda: log_of(blower(), FAN, tested_on="model"),
    "it was tested on: bench": lambda: log_of(blower(), FAN, tested_on="bench"),
    "its system differs in more than the energy": lambda: log_of(
        blower(), FAN, system=msgspec.structs.replace(SHUT, title="Another house")
    ),
    "its system was not shut off": lambda: log_of(blower(), FAN, system=SYSTEM),
    "nothing passed there": lambda: log_of(blower()),
    "cut short there: heat": lambda: log_of(
        blower(),
        FAN,
        named(
            "heat",
            step("call", ("W1",), lasts=1_000, until=None),
            step("two", ("W1", "Y1"), turns("blower", "on", 5_000, 2)),
        ),
    ),
}


@pytest.mark.parametrize("why", UNFIT)
def test_what_is_no_clean_dry_run_of_this_system_is_told(why: str) -> None:
    with pytest.raises(UsageError, match=f"log is no clean dry run of this system: {why}"):
        dry_run(UNFIT[why](), SYSTEM, "log")


def test_a_torn_log_is_no_evidence() -> None:
    whole = contents(blower(), FAN)

    with pytest.raises(UsageError, match="damaged or was never closed"):
        dry_run(read(whole[:-40]), SYSTEM, "log")


def energy(**more: str) -> System:
    states: dict[str, Any] = {"fuel": "none", "compressor": "none", "elements": "none", **more}
    return msgspec.structs.replace(SYSTEM, energy=Energy(**states))


@pytest.mark.parametrize(
    ("point", "state", "isolated", "why"),
    [
        ("compressor", "on", {"compressor": "isolated"}, "compressor isolated"),
        ("compressor", "off", {"compressor": "isolated"}, "compressor isolated"),
        ("outdoor_fan", "on", {"compressor": "isolated"}, "compressor isolated"),
        ("contactor", "on", {"compressor": "isolated"}, ""),
        ("blower", "on", {"compressor": "isolated"}, ""),
        ("strip_2", "on", {"elements": "isolated"}, "elements isolated"),
        ("aux_heat", "on", {"elements": "isolated"}, ""),
        ("compressor", "on", {"compressor": "live"}, ""),
    ],
)
def test_what_is_isolated_is_not_asked_to_answer(point: str, state: str, isolated: dict[str, str], why: str) -> None:
    one = named("try", step("call", ("Y1",), turns(point, state, 5_000), until=Condition(point, state)))

    (fitted,) = fitted_to(one, energy(**isolated)).steps

    assert fitted.expect[0].not_applicable == why
    assert (fitted.until is None) == bool(why)


def test_without_fuel_what_needs_a_flame_is_deferred_and_what_waits_for_none_is_not() -> None:
    burn = named("burn", step("call", ("W1",), turns("flame", "on", 5_000)))
    trial = named("trial", step("call", ("W1",), turns("gas_valve", "off", 5_000)))

    assert fitted_to(burn, energy(fuel="shut_off")).deferred == "the fuel is shut off, and a flame is needed"
    assert fitted_to(trial, energy(fuel="shut_off")).deferred == ""
    assert fitted_to(burn, energy(fuel="live")).deferred == ""


@pytest.mark.parametrize(("compressor", "made"), [("live", False), ("isolated", False), ("none", True)])
def test_the_weather_is_set_on_a_mockup_alone(compressor: str, made: bool) -> None:
    one = named("cold", step("set", (), set={"outdoor_air": 10.0}))

    assert (fitted_to(one, energy(compressor=compressor)).not_applicable == "") == made


@pytest.mark.parametrize(
    ("steps", "said"),
    [
        ([step("a", (), power="off")], ""),
        ([step("a", ("W1",)), step("b", ("W1",), power="off")], "never cut in a burner run"),
        ([step("a", (), power="off"), step("b", (), power="on"), step("c", (), power="off")], "cut once in a run"),
        ([step("a", (), set={"line_voltage": 80.0})], "only measured"),
        ([step("a", (), open_switch="limit")], "opened by hand"),
        ([step("a", ("Y1",), challenge="minimum_off")], "only after it passed dry"),
        ([step("a", (), open_switch="limit", not_applicable="none here")], ""),
    ],
)
def test_a_sequence_that_the_table_refuses_is_not_begun(steps: list[plan.Step], said: str) -> None:
    because = refused(named("try", *steps), Circumstances(ground="live", dry_run=DryRun(run="d"), fuel=True))

    assert said in because
    assert bool(because) == bool(said)
