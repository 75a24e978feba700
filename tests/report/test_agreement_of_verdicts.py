"""Stored verdicts against those judged anew."""

from __future__ import annotations

import msgspec

from report.hand_made import PASS
from stagecall.model.event import JUDGING, VerdictLine
from stagecall.model.verdict import Reason, Verdict
from stagecall.report.agreement import Agreement, compare
from stagecall.units import Range

STORED = [
    VerdictLine(n=9, t=5, of="fan", id="a.1", verdict=PASS, observed=Range(4, 5), lines=(3,)),
    VerdictLine(n=12, t=9, of="fan", verdict=PASS),
    VerdictLine(n=13, t=9, verdict=PASS),
]


def against(anew: list[VerdictLine], *, judging: int = JUDGING, closed: bool = True) -> Agreement:
    return compare(STORED, anew, judging=judging, closed=closed)


def numberless() -> list[VerdictLine]:
    return [msgspec.structs.replace(line, n=-1) for line in STORED]


def test_the_same_verdicts_agree_whatever_their_line_numbers() -> None:
    agreement = against(numberless())

    assert agreement.agrees is True
    assert agreement.sentences() == ["The 3 stored verdicts agree with those judged anew."]


def test_another_verdict_disagrees_and_is_named() -> None:
    anew = numberless()
    anew[0] = msgspec.structs.replace(anew[0], verdict=Verdict.NOT_VERIFIED, reason=Reason.TOO_CLOSE)
    agreement = against(anew)

    assert agreement.agrees is False
    assert agreement.sentences() == [
        "fan a.1: stored PASS, judged anew NOT VERIFIED (too close to call)",
        "The stored verdicts DISAGREE with those judged anew.",
    ]


def test_the_same_verdict_on_other_evidence_disagrees_too() -> None:
    anew = numberless()
    anew[0] = msgspec.structs.replace(anew[0], observed=Range(4, 6))

    assert against(anew).differences == ("fan a.1: stored PASS, judged anew PASS on other evidence",)


def test_a_verdict_too_many_or_too_few_disagrees() -> None:
    more = VerdictLine(t=9, of="fan", id="a.2", verdict=PASS)

    assert against([more, *numberless()]).differences == ("fan a.2: stored nothing, judged anew PASS",)
    assert against(numberless()[:-1]).differences == ("the run: stored PASS, judged anew nothing",)


def test_a_log_that_breaks_off_lacks_its_last_verdicts_by_nature() -> None:
    more = VerdictLine(t=9, of="late", verdict=Verdict.NOT_VERIFIED, reason=Reason.CUT_SHORT)

    assert against([*numberless(), more], closed=False).agrees is True


def test_under_other_rules_a_difference_is_no_disagreement() -> None:
    anew = numberless()
    anew[2] = msgspec.structs.replace(anew[2], verdict=Verdict.FAIL)
    agreement = against(anew, judging=JUDGING + 1)

    assert agreement.agrees is None
    assert agreement.sentences()[-1] == (
        f"Rules changed: judged under version {JUDGING + 1} when it was recorded, under version {JUDGING} now."
    )


def test_without_stored_verdicts_there_is_nothing_to_compare() -> None:
    agreement = compare([], numberless(), judging=JUDGING, closed=True)

    assert agreement.agrees is None
    assert agreement.sentences() == ["The log holds no verdicts; those shown were judged now."]


def test_of_many_differences_the_first_few_are_told() -> None:
    anew = [VerdictLine(of="other", id=f"b.{number}", verdict=PASS) for number in range(9)]

    assert against(anew).sentences(most=2)[2] == "and 10 more that differ"


def test_a_sequence_that_ran_twice_is_compared_time_by_time() -> None:
    twice = [*STORED, *STORED]
    anew = [*numberless(), *numberless()]
    anew[3] = msgspec.structs.replace(anew[3], verdict=Verdict.FAIL)

    assert compare(twice, anew, judging=JUDGING, closed=True).differences == ("fan a.1: stored PASS, judged anew FAIL",)
