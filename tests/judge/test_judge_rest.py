"""A watch that says it has nothing to do until a moment has nothing to do until then."""

from __future__ import annotations

from contextlib import ExitStack
from unittest.mock import patch

import msgspec
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from random_logs import logs

from stagecall.judge import judge
from stagecall.judge.anchored import Anchored
from stagecall.judge.ask import Ask
from stagecall.judge.never import Never
from stagecall.judge.order import Order
from stagecall.judge.reads import Reads
from stagecall.judge.times import Times
from stagecall.judge.watch import Watch
from stagecall.model.event import AnyLine, Settled, VerdictLine

FORMS = ("turns", "turns each", "stays", "stays each", "never", "order", "times", "times per", "reads", "ask")
QUICK = settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=list(HealthCheck),
    derandomize=True,
    phases=(Phase.generate, Phase.shrink),
)
KINDS: tuple[type[Watch], ...] = (Anchored, Ask, Never, Order, Reads, Times)


def restless(log: list[AnyLine]) -> list[VerdictLine]:
    """The verdicts of a judge whose watches look at every settled moment."""
    with ExitStack() as patched:
        for kind in KINDS:
            patched.enter_context(patch.object(kind, "idle_until", return_value=0))
        return judge(log, closed=True)


def told_more_often(log: list[AnyLine]) -> list[AnyLine]:
    """The same log, settled half-way and just before each line."""
    lines: list[AnyLine] = [log[0]]
    for line in log[1:]:
        between = {(lines[-1].t + line.t) // 2, line.t - 1}
        lines += [Settled(t=t) for t in sorted(between) if t > lines[-1].t]
        lines.append(line)
    return [msgspec.structs.replace(line, n=n) for n, line in enumerate(lines)]


def test_every_form_says_how_long_it_rests() -> None:
    def forms(kind: type[Watch]) -> set[type[Watch]]:
        below = {deeper for other in kind.__subclasses__() for deeper in forms(other)}
        return below or {kind}

    assert all(issubclass(kind, KINDS) for kind in forms(Watch))
    assert all("idle_until" in vars(kind) for kind in KINDS)


def rests(form: str, data: st.DataObject) -> None:
    monitor = form not in ("order", "reads", "ask") and data.draw(st.booleans())
    log = told_more_often(data.draw(logs((form,), monitor=monitor)))

    assert judge(log, closed=True) == restless(log)


@pytest.mark.parametrize("form", FORMS)
@settings(QUICK)
@given(st.data())
def test_resting_changes_no_verdict_and_not_the_line_that_brings_it(form: str, data: st.DataObject) -> None:
    rests(form, data)


@pytest.mark.thorough
@pytest.mark.parametrize("form", FORMS)
@settings(QUICK, max_examples=200)
@given(st.data())
def test_resting_changes_no_verdict_of_very_many_logs(form: str, data: st.DataObject) -> None:
    rests(form, data)
