"""The judge against cases worked out by hand, and the cases against what they are meant to cover."""

from __future__ import annotations

from collections import defaultdict

import golden_case
import pytest
from golden_case import Case, Says, cases, lines, numbers, read_case

from stagecall.judge import Judge, judge
from stagecall.model.event import SequenceMark, VerdictLine
from stagecall.model.plan import Reads, Stays, Times, Turns
from stagecall.units import Range

ANCHORED = {
    "turns": {
        "step": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|absent|unless",
        "point": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|never came up",
        "call": "inside below at above straddling|already so|gap|cut short|not observed",
        "power": "inside below at above straddling|already so|gap|cut short|never came up",
        "each point": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|absent",
        "each call": "inside above",
        "each power": "inside below",
    },
    "stays": {
        "step": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|absent|unless",
        "point": "inside below at straddling|gap|cut short|never came up",
        "call": "inside below straddling|gap|cut short",
        "power": "inside below straddling|gap|cut short",
        "each point": "inside below straddling|gap|cut short|blind|never came up",
        "each call": "below",
        "each power": "inside",
    },
}
PLAIN = {
    "order": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|absent|out of turn",
    "never": "inside below at above straddling|already so|gap|cut short|not observed|blind|chatter|unless",
    "reads end": "inside below at above straddling|gap|cut short|not observed",
    "reads after": "inside below at above straddling|gap|cut short|not observed",
    "reads throughout": "inside below at above straddling|gap|cut short|not observed",
    "times": "inside below at above|already so|gap|cut short|not observed|blind|chatter",
    "times per": "inside below at above straddling|cut short|never came up",
    "ask": "inside below|gap|cut short",
}
"""Every form and anchor, and the situations that must be shown of it; what is not named cannot happen to it."""


JUDGED = [pytest.param(case, id=case.name) for case in cases()]


def found(verdicts: list[VerdictLine], owner: str, name: str) -> VerdictLine:
    (one,) = [line for line in verdicts if (line.of, line.id) == (owner, name)]
    return one


def said(line: VerdictLine) -> Says:
    """What a line says; what was excepted keeps the reason it had, which no case names."""
    return Says(line.verdict, None if line.verdict == "excepted" else line.reason)


@pytest.mark.parametrize("case", JUDGED)
def test_the_judge_says_what_was_worked_out_by_hand(case: Case) -> None:
    verdicts = judge(lines(case), closed=not case.torn)

    owner = "m" if case.monitor else "s"
    for name, text in zip(case.ids, case.says, strict=False):
        assert said(found(verdicts, owner, name)) == Says.read(text), name
    for name, text in case.others.items():
        assert said(found(verdicts, owner, name)) == Says.read(text), name
    if case.sequence is not None:
        whole, wanted = found(verdicts, owner, ""), Says.read(case.sequence)
        assert whole.verdict == wanted.verdict
        assert wanted.reason in (None, whole.reason)
    if case.run is not None:
        assert found(verdicts, "", "").verdict == Says.read(case.run).verdict


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_the_evidence_is_what_was_worked_out_by_hand(case: Case) -> None:
    verdicts = judge(lines(case), closed=not case.torn)

    owner = "m" if case.monitor else "s"
    line = found(verdicts, owner, case.ids[0] if case.says else "")
    if case.observed is not None:
        low, high = (float(end) for end in case.observed.split(".."))
        assert line.observed == Range(low, high)
    if case.margin is not None:
        assert line.margin == pytest.approx(case.margin)
    for key in ("usual", "instances", "failed", "counted"):
        wanted = getattr(case, key)
        assert wanted is None or getattr(line, key) == wanted, key
    if case.at is not None:
        assert line.t == case.at
    assert case.remark in line.remark
    assert case.detail in line.detail
    for text in case.evidence:
        assert set(numbers(case, text)) & set(line.lines), text
    assert set(line.lines) <= {other.n for other in lines(case)}


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_a_verdict_once_said_is_the_verdict_of_the_whole(case: Case) -> None:
    whole = judge(lines(case), closed=not case.torn)
    streaming = Judge()
    early: list[VerdictLine] = []
    for line in lines(case):
        said_now = streaming.feed(line)
        assert all(verdict.t == line.t for verdict in said_now)
        early += said_now

    assert [(v.of, v.id) for v in early] == [(v.of, v.id) for v in whole[: len(early)]]
    assert early == whole[: len(early)]
    assert early + streaming.finish(closed=not case.torn) == whole


def test_every_not_verified_has_its_reason_and_no_pass_or_fail_has() -> None:
    for case in cases():
        for line in judge(lines(case), closed=not case.torn):
            if line.id:
                assert (line.reason is not None) == (line.verdict in ("not_verified", "excepted")), (case.name, line)


def test_a_sequence_that_runs_again_starts_afresh() -> None:
    case = read_case(
        {
            "name": "twice", "rule": "23", "shows": "roll-up", "says": ["pass"],
            "expect": {"turns": {"blower": "on"}, "within": "..6 s"},
            "trace": """
                1000 sequence begin
                1000 begin a
                2000 blower on
                9000 end a
                9000 sequence end
                9500 blower off
                10000 sequence begin
                10000 begin a
                19000 end a
                19000 sequence end
            """,
        },
        "here",
    )  # fmt: skip

    verdicts = judge(lines(case), closed=True)

    assert [v.verdict for v in verdicts if v.id == "a.1"] == ["pass", "fail"]
    assert [v.verdict for v in verdicts if v.of == "s" and not v.id] == ["pass", "fail"]
    assert found(verdicts, "", "").verdict == "fail"


# --- the cases themselves --------------------------------------------------------------------------------------------


def test_there_are_enough_cases_and_each_has_its_own_name() -> None:
    names = [(case.forms[0].__class__, case.monitor, case.name) for case in cases() if case.forms]

    assert len(cases()) >= 240
    assert len(set(names)) == len(names)


def test_every_rule_is_cited() -> None:
    assert {rule for case in cases() for rule in case.rule} == set(range(1, 24))


def kind(case: Case, k: int) -> tuple[str, str]:
    """The row of the table that the case's expectation belongs to."""
    form = case.forms[k]
    word = next(iter(case.expect[k]))
    match form:
        case Turns() | Stays():
            return word, f"each {form.each.kind}" if form.each is not None else form.since.kind
        case Reads():
            return f"reads {form.at if isinstance(form.at, str) else 'after'}", ""
        case Times():
            return "times per" if form.per is not None else "times", ""
    return word, ""


def test_every_form_and_anchor_is_shown_in_every_situation() -> None:
    shown = defaultdict(set)
    for case in cases():
        if case.says:
            shown[kind(case, 0)] |= set(case.shows)
    table = {(form, anchor): text for form, row in ANCHORED.items() for anchor, text in row.items()}
    table |= {(form, ""): text for form, text in PLAIN.items()}

    missing = {
        row: sorted(wanted - shown[row])
        for row, text in table.items()
        if (wanted := {word for part in text.split("|") for word in situations(part)}) - shown[row]
    }

    assert missing == {}
    assert set(shown) <= set(table)


def situations(part: str) -> list[str]:
    limits = {"inside", "below", "at", "above", "straddling"}
    return part.split() if set(part.split()) <= limits else [part]


@pytest.mark.parametrize(
    ("change", "complaint"),
    [
        ({"verdict": "pass"}, "unknown field"),
        ({"trace": "1000 begin a\n1500 blower sideways\n2000 end a"}, "blower sideways"),
        ({"trace": "1000 begin a\n900 end a"}, "lines out of order"),
        ({"trace": "1000 begin a\n2000 end a early"}, "early"),
        ({"expect": {"turns": {"blower": "on"}, "within": "..6 s", "until": "noon"}}, "unknown keys: until"),
        ({"expect": {"turns": {"blowr": "on"}, "within": "..6 s"}}, "blowr on"),
        ({"expect": {"hopes": {"blower": "on"}}}, "no such form: hopes"),
        ({"says": "passed"}, "passed"),
        ({"says": "not verified, too near"}, "too near"),
    ],
)
def test_a_case_that_cannot_be_read_is_an_error_that_names_it(change: dict[str, object], complaint: str) -> None:
    whole: dict[str, object] = {
        "name": "this one", "rule": "4", "shows": "inside", "trace": "1000 begin a\n2000 end a", "says": "pass",
        "expect": {"turns": {"blower": "on"}, "within": "..6 s"},
    }  # fmt: skip
    read_case(whole, "here")

    with pytest.raises(ValueError, match=f"here: this one: .*{complaint}"):
        read_case(whole | change, "here")


def test_the_text_of_a_trace_becomes_the_log_it_describes() -> None:
    case = cases()[0]
    log = lines(case)

    assert [line.n for line in log] == list(range(len(log)))
    assert isinstance(log[-1], SequenceMark)
    assert golden_case.numbers(case, case.trace.splitlines()[0]) == [4]
