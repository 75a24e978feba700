"""What the judge tells the run of when a step, or the closing stretch, will be decided."""

from __future__ import annotations

from copy import deepcopy

import pytest
from golden_case import lines, read_case
from hypothesis import HealthCheck, given, settings
from random_logs import logs

from stagecall.judge import Judge
from stagecall.model.event import AnyLine, Settled

FORMS = ("turns", "turns each", "stays", "stays each", "never", "order", "times", "reads", "ask")
PROPERTY = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))


@PROPERTY
@given(logs(FORMS))
def test_a_step_told_up_to_its_deadline_is_open_no_more(log: list[AnyLine]) -> None:
    judge = Judge()
    for line in log:
        judge.feed(line)
        deadline = judge.step_deadline()
        assert deadline is None or judge.step_open()
        if deadline is not None:
            later = deepcopy(judge)
            later.feed(Settled(n=line.n + 1, t=max(line.t, deadline)))
            assert not later.step_open()


@PROPERTY
@given(logs(("turns", "stays", "times per"), monitor=True))
def test_a_closing_stretch_told_up_to_its_deadline_is_open_no_more(log: list[AnyLine]) -> None:
    judge = Judge()
    for line in log:
        judge.feed(line)
        deadline = judge.closing_deadline()
        assert deadline is None or judge.closing_open()
        if deadline is not None:
            later = deepcopy(judge)
            later.feed(Settled(n=line.n + 1, t=max(line.t, deadline)))
            assert not later.closing_open()


def after(expect: dict[str, object], trace: str, **more: object) -> Judge:
    case = read_case({"name": "-", "rule": "6", "shows": "-", "trace": trace, "expect": expect, **more}, "here")
    judge = Judge()
    for line in lines(case):
        judge.feed(line)
    return judge


BEGUN = "1000 begin a Y1=on\n1010..1020 call Y1 on"


@pytest.mark.parametrize(
    ("expect", "deadline"),
    [
        ({"turns": {"blower": "on"}, "within": "..6 s"}, 1020 + 6000 + 100),
        ({"turns": {"blower": "on"}, "within": "2..6 s"}, 1020 + 6000 + 100),
        ({"stays": {"blower": "off"}, "for": "5 s"}, 1020 + 5000 + 100),
        ({"stays": {"blower": "off"}, "from": "2 s", "for": "5 s", "tolerate": "300 ms"}, 1020 + 7000 + 300 + 100),
        ({"reads": {"supply_air": "30..45 °C"}, "at": "5 s"}, 1020 + 5000),
    ],
)
def test_the_deadline_is_the_window_and_how_late_a_change_can_be_told(expect: dict[str, object], deadline: int) -> None:
    judge = after(expect, BEGUN, torn="true")

    assert judge.step_open()
    assert judge.step_deadline() == deadline


@pytest.mark.parametrize(
    "expect",
    [
        {"turns": {"blower": "on"}, "within": "5 s.."},
        {"stays": {"blower": "on"}},
        {"stays": {"blower": "on"}, "until": {"compressor": "on"}},
        {"never": [{"blower": "on"}, {"compressor": "on"}]},
        {"times": {"blower": "on"}, "count": "1..3"},
        {"order": [{"blower": "on"}, {"compressor": "on"}]},
        {"reads": {"supply_air": "30..45 °C"}, "at": "end"},
        {"turns": {"flame": "on"}, "within": "..5 s", "each": {"gas_valve": "on"}},
    ],
)
def test_what_has_no_window_keeps_no_step_open(expect: dict[str, object]) -> None:
    judge = after(expect, BEGUN, torn="true")

    assert not judge.step_open()
    assert judge.step_deadline() is None


@pytest.mark.parametrize(
    "expect",
    [
        {"turns": {"blower": "on"}, "within": "..6 s", "since": {"compressor": "on"}},
        {"order": [{"blower": "on"}, {"compressor": "on"}], "gaps": ["..6 s"]},
        {"ask": "Does air come out of every register?"},
    ],
)
def test_a_step_that_waits_for_what_may_never_come_is_open_without_a_deadline(expect: dict[str, object]) -> None:
    judge = after(expect, BEGUN, torn="true")

    assert judge.step_open()
    assert judge.step_deadline() is None


def test_an_order_under_way_is_due_when_all_its_gaps_have_run_out() -> None:
    order = {"order": [{"inducer": "on"}, {"ignitor": "on"}, {"gas_valve": "on"}], "gaps": ["..30 s", "..20 s"]}

    judge = after(order, BEGUN + "\n2000..2050 inducer on\n2200 settled", torn="true")

    assert judge.step_deadline() == 2050 + 30_000 + 100 + 20_000 + 100 + 100


def test_a_run_waits_at_its_close_for_an_off_time_that_only_has_a_lower_end() -> None:
    off = {"turns": {"compressor": "on"}, "within": "180 s..", "each": {"compressor": "off"}}

    judge = after(off, "1000 compressor on\n5000..5100 compressor off", monitor="true")

    assert judge.closing_open()
    assert judge.closing_deadline() == 5100 + 180_000 + 100
    judge.feed(Settled(n=9, t=185_199))
    assert judge.closing_open()
    judge.feed(Settled(n=10, t=185_200))
    assert not judge.closing_open()
