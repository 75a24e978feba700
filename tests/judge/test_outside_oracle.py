"""The judge against somebody else's monitor of signal temporal logic, on complete traces with point times."""

from __future__ import annotations

import random
from collections import Counter
from itertools import accumulate
from typing import Any

import pytest
from golden_case import document, header, numbered
from temporal_logic import Trace, holds, outside_monitor, translate

from stagecall.judge import judge
from stagecall.model import event, plan
from stagecall.model.sequence import Anchor, Condition
from stagecall.model.verdict import Verdict
from stagecall.units import Range

LIBRARY = outside_monitor()
POINTS = ("blower", "compressor", "flame")
STATES = ("on", "off")
GAPS = (10, 40, 60, 90, 100, 110, 200, 300, 400, 410, 500, 510, 1000, 1010, 2000)
"""Between edges, ms: on the grid, often just to one side of a bound."""
TAIL = 6_000
"""Longer than any window, so that nothing is cut short by the end."""
HIGHS = (None, 105, 505, 1005, 2005)
LOWS = (None, None, 105, 405, 1005)

pytestmark = pytest.mark.skipif(isinstance(LIBRARY, str), reason=f"the rtamt library cannot be used: {LIBRARY}")


def a_trace(rng: random.Random) -> Trace:
    """Some edges, never two at once, and then quiet."""
    busy = rng.sample([8, 2, 1], 3)
    moments = list(accumulate(rng.choices(GAPS, k=rng.randint(0, 14))))
    states = first = {point: rng.choice(STATES) for point in POINTS}
    edges = []
    for t in moments:
        point = rng.choices(POINTS, busy)[0]
        states = states | {point: "off" if states[point] == "on" else "on"}
        edges.append((t, point, states[point]))
    return Trace(stop=(moments[-1] if moments else 0) + TAIL, first=first, edges=tuple(edges))


def a_limit(rng: random.Random) -> plan.ResolvedLimit:
    low, high = rng.choice(LOWS), rng.choice(HIGHS)
    if low is None and high is None:
        high = 505
    if low is not None and high is not None and low > high:
        low, high = high, low
    return plan.ResolvedLimit(name="limit", range=Range(low, high))


def a_condition(rng: random.Random) -> Condition:
    return Condition(rng.choice(POINTS), rng.choice(STATES))


def counted_from(rng: random.Random, *, each: bool) -> dict[str, Anchor]:
    anchor = Anchor("point", rng.choice(POINTS), rng.choice(STATES))
    if each:
        return {"each": anchor}
    return {"since": rng.choice([Anchor(), anchor, anchor])}


def a_form(rng: random.Random, name: str, *, each: bool) -> plan.Form:
    base: dict[str, Any] = {"id": name, "text": name}
    tolerate = rng.choice([0, 0, 105, 405])
    match rng.choice(["turns", "stays", "never"]):
        case "turns":
            want, counted = a_condition(rng), counted_from(rng, each=each)
            at = next(iter(counted.values()))
            if (at.name, at.state) == (want.point, want.state):
                want = Condition(want.point, "off" if want.state == "on" else "on")
            return plan.Turns(turns=want, within=a_limit(rng), **counted, **base)
        case "stays":
            want, ends, counted = a_condition(rng), rng.choice(["length", "until", "end"]), counted_from(rng, each=each)
            others = [point for point in POINTS if point != want.point]
            begin, length = rng.choice([(0, 405), (0, 1005), (105, 400), (105, 1000)])  # ends between the lines too
            other = Condition(rng.choice(others), rng.choice(STATES))
            at = next(iter(counted.values()))
            if at.name in others and rng.random() < 0.3:
                other = Condition(at.name, at.state)
            return plan.Stays(
                stays=want, begin=begin, tolerate=tolerate,
                length=length if ends == "length" else None,
                until=other if ends == "until" else None, **counted, **base,
            )  # fmt: skip
        case _:
            names = rng.sample(POINTS, 3)
            members = tuple(Condition(point, rng.choice(STATES)) for point in names[: rng.randint(1, 2)])
            unless = (Condition(names[2], rng.choice(STATES)),) if rng.random() < 0.3 else ()
            return plan.Never(never=members, tolerate=tolerate, unless=unless, **base)


def log_of(trace: Trace, in_step: list[plan.Form], in_monitor: list[plan.Form], rng: random.Random) -> list[Any]:
    """The trace as a log: one step without calls, watched by a source that tells every edge to the millisecond."""
    bounds = {point: event.PointBounds(sensed="contact") for point in POINTS}
    step = plan.Step(slug="a", title="a", expect=tuple(in_step))
    told = [event.Edge(t=t, point=point, state=state) for t, point, state in trace.edges]
    settled = [event.Settled(t=edge.t - 3) for edge in told if rng.random() < 0.3]
    return numbered([
        header(event.SourceBounds(points=bounds)),
        document("sequence", plan.Sequence(name="s", title="s", group="cool", steps=(step,))),
        document("monitor", plan.Monitor(name="m", title="m", expect=tuple(in_monitor))),
        event.Snapshot(t=0, points=dict(trace.first), calls=(), power="on"),
        event.SequenceMark(t=0, name="s", phase="begin"),
        event.StepMark(t=0, sequence="s", step="a", phase="begin"),
        *sorted([*told, *settled], key=lambda line: line.t),
        event.StepMark(t=trace.stop, sequence="s", step="a", phase="end"),
        event.SequenceMark(t=trace.stop, name="s", phase="end"),
    ])  # fmt: skip


def compare(seed: int, seen: Counter[str]) -> None:
    """One trace, four expectations: failed where the formula is false, and nowhere else."""
    rng = random.Random(seed)
    trace = a_trace(rng)
    in_step = [a_form(rng, f"a.{k}", each=k == 3) for k in (1, 2, 3)]
    in_monitor = [a_form(rng, "m.1", each=True)]
    said = {line.id: line for line in judge(log_of(trace, in_step, in_monitor, rng), closed=True) if line.id}
    for form in (*in_step, *in_monitor):
        formula = translate(form, trace)
        true = holds(formula, LIBRARY)
        verdict = said[form.id].verdict
        assert (verdict is Verdict.FAIL) is (not true), (seed, form, trace, formula.text, said[form.id])
        seen[f"{type(form).__name__} {verdict}"] += 1


@pytest.mark.parametrize("part", range(4))
def test_the_judge_fails_exactly_what_temporal_logic_calls_false(part: int) -> None:
    seen: Counter[str] = Counter()
    for seed in range(part, 200, 4):
        compare(seed, seen)
    assert {f"{form} {verdict}" for form in ("Turns", "Stays", "Never") for verdict in ("pass", "fail")} <= set(seen)


@pytest.mark.thorough
def test_the_judge_fails_exactly_what_temporal_logic_calls_false_on_many_traces() -> None:
    seen: Counter[str] = Counter()
    for seed in range(1_000, 2_500):
        compare(seed, seen)
    assert min(seen[f"{form} {verdict}"] for form in ("Turns", "Stays", "Never") for verdict in ("pass", "fail")) > 100
