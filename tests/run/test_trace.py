"""Traces and the envelope of healthy ones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagecall.model.event import Edge, Reading, SequenceMark, Settle, Snapshot, StepMark
from stagecall.run.trace import STEPS, Edges, Envelope, Trace, Tracer


def trace(*edges: tuple[str, int], step: str = "call", point: str = "blower", width: int = 10) -> Trace:
    """One point in one step; each edge may have happened up to *width* ms before it was stamped."""
    found: Edges = [(state, t - width, t) for state, t in edges]
    return Trace({step: {point: found} if found else {}})


def envelope(*traces: Trace) -> Envelope:
    whole = Envelope()
    for one in traces:
        whole.add(one)
    return whole


HEALTHY = envelope(trace(("on", 1000)), trace(("on", 2000)))


@pytest.mark.parametrize(("t", "left"), [(989, True), (990, False), (1500, False), (2010, False), (2011, True)])
def test_an_edge_leaves_when_all_of_its_interval_lies_outside(t: int, left: bool) -> None:
    assert HEALTHY.left_by(trace(("on", t))) == (("blower",) if left else ())


def test_an_edge_that_every_healthy_machine_has_is_missed() -> None:
    assert HEALTHY.left_by(trace()) == ("blower",)


def test_an_edge_that_only_some_have_is_not() -> None:
    assert envelope(trace(("on", 1000)), trace()).left_by(trace()) == ()


def test_one_edge_more_or_another_state_is_another_pattern() -> None:
    assert HEALTHY.left_by(trace(("on", 1000), ("off", 1500))) == ("blower",)
    assert HEALTHY.left_by(trace(("chatter", 1500))) == ("blower",)
    assert HEALTHY.left_by(trace(("on", 1500), point="inducer")) == ("blower", "inducer")


def test_a_step_missing_or_one_too_many_is_another_course() -> None:
    more = trace(("on", 1500))
    more.stretches["cut short"] = {}

    assert HEALTHY.left_by(Trace({})) == (STEPS,)
    assert HEALTHY.left_by(more) == (STEPS,)


def test_a_reading_leaves_by_its_first_last_least_or_greatest() -> None:
    def read(*values: float) -> Trace:
        return Trace({"call": {}}, {"call": {"supply_air": (values[0], values[-1], min(values), max(values))}})

    healthy = envelope(read(20.0, 30.0), read(22.0, 34.0))

    assert healthy.left_by(read(21.0, 33.0)) == ()
    assert healthy.left_by(read(21.0, 36.0, 33.0)) == ("supply_air",)
    assert healthy.left_by(read(21.0, 25.0)) == ("supply_air",)


@given(st.lists(st.lists(st.integers(0, 50), max_size=3), min_size=1, max_size=8), st.integers(0, 8))
def test_an_envelope_is_the_same_however_its_traces_were_shared_out(times: list[list[int]], cut: int) -> None:
    traces = [trace(*[("on" if i % 2 == 0 else "off", t) for i, t in enumerate(sorted(run))]) for run in times]
    parts = envelope(*traces[:cut])
    parts.merge(envelope(*traces[cut:]))

    assert parts == envelope(*traces)
    assert all(parts.left_by(one) == () for one in traces)


def test_a_trace_is_cut_into_stretches_and_counted_from_their_begin() -> None:
    tracer = Tracer()
    for line in (
        Snapshot(points={"blower": "off"}),
        Settle(t=0, phase="begin"),
        Settle(t=500, phase="end"),
        SequenceMark(t=500, name="fan", phase="begin"),
        StepMark(t=500, sequence="fan", step="call", phase="begin"),
        Edge(t=1500, e=1400, point="blower", state="on"),
        Reading(t=1600, point="supply_air", value=20.0),
        Reading(t=1700, point="supply_air", value=25.0),
        Reading(t=1800, point="supply_air", value=22.0),
        SequenceMark(t=3000, name="fan", phase="end", cut_short="it never came"),
        Settle(t=3000, phase="begin"),
        Edge(t=3200, point="blower", state="off"),
    ):
        tracer.take(line)

    assert tracer.trace == Trace(
        {
            "": {"blower": [("off", 0, 0)]},
            "settle 1": {},
            "call": {"blower": [("on", 900, 1000)]},
            "cut short": {},
            "settle 2": {"blower": [("off", 200, 200)]},
        },
        {"call": {"supply_air": (20.0, 22.0, 20.0, 25.0)}},
    )
