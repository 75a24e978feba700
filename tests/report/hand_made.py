"""Logs written by hand, so that what is drawn does not depend on any rig."""

from __future__ import annotations

from stagecall.model import plan
from stagecall.model.event import (
    AnyLine,
    Call,
    Edge,
    Header,
    PointBounds,
    Reading,
    Refusal,
    SequenceMark,
    Settled,
    Snapshot,
    SourceBounds,
    StepMark,
    TestedOn,
    VerdictLine,
    Wait,
)
from stagecall.model.sequence import Anchor, Condition
from stagecall.model.verdict import Reason, Verdict
from stagecall.record import Log, document
from stagecall.report.record import Record, record_of
from stagecall.units import Range

PASS, FAIL, NOT_VERIFIED = Verdict.PASS, Verdict.FAIL, Verdict.NOT_VERIFIED

ANSWER = plan.ResolvedLimit(name="answer", range=Range(None, 10_000), source="boards answer within seconds")
MINIMUM_OFF = plan.ResolvedLimit(
    name="minimum_off",
    range=Range(180_000, 480_000),
    source="most boards 3 to 5 min",
)
COLD = plan.ResolvedLimit(name="cold", range=Range(7.0, 15.0), kind="temperature", source="a healthy coil")


def header(tested_on: TestedOn = "model", kit: str = "full", **points: PointBounds) -> Header:
    seen = points or {
        "contactor": PointBounds(sensed="coil_volts"),
        "compressor": PointBounds(sensed="amps"),
        "blower": PointBounds(sensed="amps"),
        "supply_air": PointBounds(sensed="air_temp"),
    }
    return Header(
        tool="stagecall 0.1.0",
        run="20260102-030405-ab12",
        start="2026-01-02T03:04:05+00:00",
        tested_on=tested_on,
        rig="simulated",
        system="split-gas-ac",
        kit=kit,
        source=SourceBounds(points=seen),
        seed=1,
    )


FAN = plan.Sequence(
    name="fan",
    title="The fan runs on its own call",
    purpose="G alone must start the blower and nothing else.",
    group="fan",
    starts=(Condition("blower", "off"),),
    steps=(
        plan.Step(
            slug="call-the-fan",
            title="Call the fan",
            because="The blower relay answers G.",
            calls=("G",),
            expect=(
                plan.Turns(
                    id="call-the-fan.1",
                    text="blower turns on within 10 s",
                    turns=Condition("blower", "on"),
                    within=ANSWER,
                ),
            ),
        ),
    ),
)

COOL = plan.Sequence(
    name="compressor-minimum-off",
    title="The compressor stays off long enough before it starts again",
    purpose="A compressor that starts against pressure stalls.",
    group="cool",
    limits={"minimum_off": MINIMUM_OFF},
    caution="The outdoor unit starts. Stand clear of the fan.",
    steps=(
        plan.Step(
            slug="call-early",
            title="Drop the call and call again at once",
            because="The board's own timer must hold the contactor out.",
            calls=("Y1", "G"),
            challenge="minimum_off",
            expect=(
                plan.Turns(
                    id="call-early.1",
                    text="compressor turns on within 3 min to 8 min since compressor off",
                    turns=Condition("compressor", "on"),
                    within=MINIMUM_OFF,
                    since=Anchor("point", "compressor", "off"),
                ),
                plan.Stays(id="call-early.2", text="blower stays on", stays=Condition("blower", "on")),
                plan.Reads(
                    id="call-early.3",
                    text="supply air reads 44.6 °F to 59.0 °F at the end",
                    reads="supply_air",
                    limit=COLD,
                ),
            ),
        ),
    ),
)

PROTECTION = plan.Monitor(
    name="compressor-protection",
    title="The compressor is never started too soon or too often",
    expect=(
        plan.Turns(
            id="compressor-protection.1",
            text="compressor turns on at least 3 min since each compressor off",
            turns=Condition("compressor", "on"),
            within=plan.ResolvedLimit(name="off", range=Range(180_000, None)),
            each=Anchor("point", "compressor", "off"),
        ),
    ),
)


def planned(*documents: plan.Sequence | plan.Monitor) -> list[AnyLine]:
    return [
        document("sequence" if isinstance(each, plan.Sequence) else "monitor", each.name, f"# {each.name}\n", each)
        for each in documents
    ]


def fan_lines(verdict: Verdict = PASS, **evidence: object) -> list[AnyLine]:
    """The fan called at 1 s; it answers at 1.8 s."""
    shown: dict[str, object] = {
        "limit": Range(None, 10_000),
        "observed": Range(799, 800),
        "margin": 9_200.0,
        "lines": (7, 8),
    }
    return [
        SequenceMark(t=1_000, name="fan", phase="begin"),
        VerdictLine(t=1_000, of="fan", id="starts.1", verdict=PASS, detail="off at the start"),
        StepMark(t=1_000, sequence="fan", step="call-the-fan", phase="begin", awaits={"G": "on"}),
        Call(t=1_000, terminal="G", state="on"),
        Edge(t=1_800, e=1_799, point="blower", state="on"),
        VerdictLine(t=1_800, of="fan", id="call-the-fan.1", verdict=verdict, **(shown | evidence)),  # type: ignore[arg-type]
        Settled(t=10_000),
        StepMark(t=10_000, sequence="fan", step="call-the-fan", phase="end"),
        SequenceMark(t=10_000, name="fan", phase="end"),
        VerdictLine(t=10_000, of="fan", verdict=verdict),
    ]


def cool_lines() -> list[AnyLine]:
    """The compressor comes back after 2.4 s; the supply air is not seen."""
    of = "compressor-minimum-off"
    return [
        SequenceMark(t=20_000, name=of, phase="begin"),
        Wait(t=20_000, until=30_000, because="the compressor may have stopped just now"),
        StepMark(t=30_000, sequence=of, step="call-early", phase="begin"),
        Edge(t=30_010, point="compressor", state="off"),
        Edge(t=30_020, point="contactor", state="on"),
        Edge(t=32_410, point="compressor", state="on"),
        Reading(t=40_000, point="supply_air", value=12.5),
        VerdictLine(
            t=40_000,
            of=of,
            id="call-early.1",
            verdict=FAIL,
            detail="came too early",
            limit=MINIMUM_OFF.range,
            observed=Range(2_400, 2_400),
            margin=-177_600.0,
            lines=(14, 16),
        ),
        VerdictLine(t=90_000, of=of, id="call-early.2", verdict=PASS, detail="held throughout"),
        VerdictLine(
            t=90_000,
            of=of,
            id="call-early.3",
            verdict=NOT_VERIFIED,
            reason=Reason.TOO_CLOSE,
            unit="temperature",
            limit=COLD.range,
            observed=Range(14.5, 15.5),
            margin=-0.5,
        ),
        StepMark(t=90_000, sequence=of, step="call-early", phase="end"),
        SequenceMark(t=90_000, name=of, phase="end"),
        VerdictLine(t=90_000, of=of, verdict=FAIL),
    ]


def monitor_lines(verdict: Verdict = PASS, *, t: int = 90_000, counted: bool = True) -> list[AnyLine]:
    """The monitor's verdicts at the end."""
    of = "compressor-protection"
    reason = Reason.NEVER_CAME_UP if verdict is NOT_VERIFIED else None
    instances = {"instances": 3, "failed": 0} if verdict is PASS else {}
    return [
        VerdictLine(
            t=t,
            of=of,
            monitor=True,
            id=f"{of}.1",
            verdict=verdict,
            reason=reason,
            limit=Range(180_000, None),
            observed=Range(301_000, 301_200) if verdict is PASS else None,
            margin=121_000.0 if verdict is PASS else None,
            counted=counted,
            **instances,
        ),
        VerdictLine(t=t, of=of, monitor=True, verdict=verdict, reason=reason, counted=counted),
    ]


def passing(tested_on: TestedOn = "model", **points: PointBounds) -> list[AnyLine]:
    """Everything asked for came."""
    return [
        header(tested_on, **points),
        *planned(FAN, PROTECTION),
        Snapshot(points={"blower": "off"}),
        *fan_lines(),
        *monitor_lines(t=10_000),
        VerdictLine(t=10_000, verdict=PASS),
    ]


def failing() -> list[AnyLine]:
    """One sequence passes; another has a fail, a pass and one too close to call."""
    return [
        header(),
        *planned(FAN, COOL, PROTECTION),
        Snapshot(points={"blower": "off"}),
        *fan_lines(),
        *cool_lines(),
        Refusal(t=90_000, calls=("Y1",), because="six starts within 60 min"),
        *monitor_lines(NOT_VERIFIED, counted=False),
        VerdictLine(t=90_000, verdict=FAIL),
    ]


def written(lines: list[AnyLine]) -> tuple[bytes, list[AnyLine]]:
    """The log's bytes, and its lines as a reader gives them."""
    first, *rest = lines
    assert isinstance(first, Header)
    log = Log.in_memory(first)
    numbered = [log.header, *(log.append(line) for line in rest)]
    log.close()
    return log.contents(), numbered


def record_from(lines: list[AnyLine]) -> Record:
    """The record of a log of these lines, closed."""
    _, numbered = written(lines)
    return record_of(numbered, log="fan.run.jsonl", digest="0123456789abcdef" * 4)
