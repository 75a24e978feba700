"""What does not grow, and what does not count."""

from __future__ import annotations

import pickle

import pytest
from golden_case import lines, numbered, read_case

from stagecall.judge import Judge, judge
from stagecall.model.event import Edge, SequenceMark, Settled, VerdictLine
from stagecall.model.verdict import Reason, Verdict

MONITORED = [
    {"turns": {"compressor": "on"}, "within": "3 min..", "each": {"compressor": "off"}},
    {"turns": {"blower": "on"}, "within": "..6 s", "each": {"compressor": "on"}},
    {"stays": {"blower": "on"}, "until": {"compressor": "off"}, "from": "6 s", "each": {"compressor": "on"}},
    {"never": [{"compressor": "on"}, {"gas_valve": "on"}], "tolerate": "1 s", "unless": {"defrost": "on"}},
    {"times": {"compressor": "on"}, "count": "..6", "per": "60 min"},
    {"order": [{"compressor": "on"}, {"blower": "on"}], "attempt": "each"},
]


def cycled(times: int) -> Judge:
    case = read_case(
        {"name": "-", "rule": "9", "shows": "-", "trace": "1 settled", "expect": MONITORED, "monitor": "true"}, "here"
    )
    watching = Judge()
    for line in lines(case):
        watching.feed(line)
    for k in range(times):
        t = 1_200_000 * (k + 1)
        changes = [
            (0, "compressor", "on"),
            (2000, "blower", "on"),
            (300_000, "compressor", "off"),
            (301_000, "blower", "off"),
        ]
        for after, point, state in changes:
            watching.feed(Edge(n=0, t=t + after, e=t + after - 50, point=point, state=state))
        watching.feed(Settled(n=0, t=t + 1_000_000))
    return watching


def test_a_judge_is_no_larger_after_a_long_log_than_after_a_short_one() -> None:
    assert len(pickle.dumps(cycled(600))) < 1.05 * len(pickle.dumps(cycled(20)))


def test_a_long_log_is_summed_up_in_one_verdict_an_expectation() -> None:
    said = {line.id: line for line in cycled(600).finish(closed=True) if line.id}

    assert {line.verdict for line in said.values()} == {Verdict.PASS}
    assert [said[f"m.{k}"].instances for k in (1, 2, 3)] == [600, 600, 600]
    assert all(len(line.lines) <= 5 for line in said.values())


def test_the_off_time_that_came_after_its_instance_passed_is_still_the_worst_observed() -> None:
    trace = """
        1000 compressor on
        2000 compressor off
        250000 settled
        260000..260100 compressor on
        270000 compressor off
        500000 settled
        700000 compressor on
        900000 settled
    """
    off = {"turns": {"compressor": "on"}, "within": "3 min..", "each": {"compressor": "off"}}
    case = read_case({"name": "-", "rule": "9", "shows": "-", "trace": trace, "expect": off, "monitor": "true"}, "here")

    (line,) = [line for line in judge(lines(case), closed=True) if line.id]

    assert (line.verdict, line.instances) == (Verdict.PASS, 2)
    assert line.observed is not None
    assert (line.observed.low, line.observed.high, line.margin) == (258_000, 258_100, 78_000)


TRACE = "1000 begin a\n2000 blower on\n9000 end a"
TURNS = {"turns": {"blower": "on"}, "within": "..6 s"}


def test_stored_verdicts_do_not_matter() -> None:
    case = read_case({"name": "-", "rule": "1", "shows": "-", "trace": TRACE, "expect": TURNS}, "here")
    log = lines(case)
    false = VerdictLine(of="s", id="a.1", verdict=Verdict.FAIL)

    assert judge([line for one in log for line in (one, false)], closed=True) == judge(log, closed=True)


@pytest.mark.parametrize("point", ["strip_2", "outdoor_fan"])
def test_a_point_that_the_source_does_not_declare_tells_nothing(point: str) -> None:
    never = {"never": [{point: "on"}]}
    case = read_case(
        {
            "name": "-",
            "rule": "13",
            "shows": "-",
            "trace": f"1000 begin a\n2000 {point} on\n9000 end a",
            "expect": never,
        },
        "here",
    )

    (line,) = [line for line in judge(lines(case), closed=True) if line.id]

    assert (line.verdict, line.reason) == (Verdict.NOT_VERIFIED, Reason.NOT_OBSERVED)


def test_a_sequence_whose_document_is_missing_is_not_verified() -> None:
    case = read_case({"name": "-", "rule": "22", "shows": "-", "trace": TRACE, "expect": TURNS}, "here")
    log = lines(case)
    log[-1:-1] = [SequenceMark(t=9000, name="s", phase="end"), SequenceMark(t=9000, name="other", phase="begin")]

    whole = {line.of: line for line in judge(numbered(log), closed=True) if not line.id}

    assert whole["s"].verdict is Verdict.PASS
    assert (whole["other"].verdict, whole["other"].reason) == (Verdict.NOT_VERIFIED, Reason.NOT_OBSERVED)
    assert whole[""].verdict is Verdict.NOT_VERIFIED


def test_a_step_whose_end_is_missing_is_cut_short_by_the_next() -> None:
    trace = "1000 begin a\n4000 begin b\n9000 end b"
    case = read_case({"name": "-", "rule": "7", "shows": "-", "trace": trace, "expect": TURNS, "of": "a"}, "here")

    line = next(line for line in judge(lines(case), closed=True) if line.id == "a.1")

    assert (line.verdict, line.reason, line.t) == (Verdict.NOT_VERIFIED, Reason.CUT_SHORT, 4000)
