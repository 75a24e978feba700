"""The judge against a slow and obvious one, on the golden cases and on random logs."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from golden_case import Case, Says, cases, lines
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from random_logs import logs
from reference import reference

from stagecall.judge import judge
from stagecall.model.event import AnyLine, StepMark
from stagecall.model.verdict import Reason, Verdict

IN_STEPS = ("turns", "turns each", "stays", "stays each", "never", "order", "times", "times per", "reads", "ask")
IN_MONITORS = ("turns", "stays", "never", "times", "times per")
QUICK = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    phases=(Phase.generate, Phase.shrink),
)
THOROUGH = settings(QUICK, max_examples=300)


@pytest.mark.parametrize("case", cases(), ids=lambda case: case.name)
def test_the_reference_says_what_was_worked_out_by_hand(case: Case) -> None:
    found = reference(lines(case), closed=not case.torn)

    for name, form, text in zip(case.ids, case.forms, case.says, strict=False):
        wanted = Says.read(text)
        judged_elsewhere = form.not_applicable or case.step_not_applicable or wanted.verdict is Verdict.EXCEPTED
        if name in found and not judged_elsewhere:
            verdict, reasons = found[name]
            assert verdict is wanted.verdict
            assert wanted.reason is None or wanted.reason in reasons


def agree(log: list[AnyLine]) -> None:
    compare(log, closed=True)


def compare(log: list[AnyLine], *, closed: bool) -> None:
    """The two say the same of every expectation, and the judge says it once."""
    wanted = reference(log, closed=closed)
    said = [line for line in judge(log, closed=closed) if line.id]

    found = {line.id: line for line in said if line.id in wanted}
    assert len(said) == len({line.id for line in said})
    assert set(found) == set(wanted)
    for name, (verdict, reasons) in wanted.items():
        assert found[name].verdict is verdict, (name, found[name], reasons)
        torn_off = not closed and found[name].reason is Reason.CUT_SHORT and reasons
        assert torn_off or found[name].reason in (reasons or (None,)), (name, found[name], reasons)


def torn(log: list[AnyLine], data: st.DataObject) -> list[AnyLine]:
    """The log up to some line, after the first step's begin."""
    first = next(n for n, line in enumerate(log) if isinstance(line, StepMark))
    return log[: 1 + data.draw(st.integers(first, len(log) - 1))]


def agree_when_torn(log: list[AnyLine], data: st.DataObject) -> None:
    compare(torn(log, data), closed=False)


def keep_their_word(log: list[AnyLine], data: st.DataObject) -> None:
    """What a log's beginning shows, the whole shows; only a pass of many instances may still turn."""
    part = {line.id: line for line in judge(torn(log, data), closed=False) if line.id}
    whole = {line.id: line for line in judge(log, closed=True) if line.id}

    for name, line in part.items():
        if line.verdict is Verdict.FAIL or (line.verdict is Verdict.PASS and line.instances is None):
            assert whole[name].verdict is line.verdict, (line, whole[name])


def examined(sizes: settings, check: Callable[..., None], **strategies: st.SearchStrategy[object]) -> None:
    sizes(given(**strategies)(check))()


@pytest.mark.parametrize("kind", IN_STEPS)
def test_judge_and_reference_agree_in_steps(kind: str) -> None:
    examined(QUICK, agree, log=logs((kind,)))


@pytest.mark.parametrize("kind", IN_MONITORS)
def test_judge_and_reference_agree_in_monitors(kind: str) -> None:
    examined(QUICK, agree, log=logs((kind,), monitor=True))


def test_judge_and_reference_agree_on_a_torn_log() -> None:
    examined(QUICK, agree_when_torn, log=logs(IN_STEPS), data=st.data())


def test_what_the_beginning_of_a_log_shows_the_whole_shows() -> None:
    examined(QUICK, keep_their_word, log=logs(IN_STEPS), data=st.data())


@pytest.mark.thorough
@pytest.mark.parametrize("kind", IN_STEPS)
def test_judge_and_reference_agree_in_very_many_steps(kind: str) -> None:
    examined(THOROUGH, agree, log=logs((kind,)))


@pytest.mark.thorough
@pytest.mark.parametrize("kind", IN_MONITORS)
def test_judge_and_reference_agree_in_very_many_monitors(kind: str) -> None:
    examined(THOROUGH, agree, log=logs((kind,), monitor=True))


@pytest.mark.thorough
def test_judge_and_reference_agree_on_very_many_torn_logs() -> None:
    examined(THOROUGH, agree_when_torn, log=logs(IN_STEPS), data=st.data())
    examined(THOROUGH, keep_their_word, log=logs(IN_STEPS), data=st.data())
