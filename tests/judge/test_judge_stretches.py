"""Times in which several conditions hold together."""

from __future__ import annotations

import pytest

from stagecall.judge.stretch import Stretches, Together
from stagecall.judge.watch import Outcome, blinded
from stagecall.model.verdict import Verdict


def told(tolerate: int, *stretches: tuple[int, int]) -> Stretches:
    found = Stretches(tolerate)
    for k, (begin, end) in enumerate(stretches):
        found.begin(begin, 2 * k)
        found.finish(end, 2 * k + 1)
    return found


def lengths(stretches: Stretches, moment: int | None = None) -> list[int]:
    return [one.length for one in stretches.over(moment)]


def test_a_stretch_is_as_long_as_from_its_begin_to_its_end_and_names_both_lines() -> None:
    assert told(0, (1000, 1250)).over(None) == [Together(250, (0, 1), "")]


@pytest.mark.parametrize(
    ("parted", "grown", "count"),
    [(99, [50, 179], 1), (100, [50, 30], 2), (101, [50, 30], 2)],
)
def test_stretches_parted_by_less_than_is_tolerated_are_one(parted: int, grown: list[int], count: int) -> None:
    stretches = told(100, (1000, 1050), (1050 + parted, 1080 + parted))

    assert lengths(stretches) == grown
    assert stretches.count == count


@pytest.mark.parametrize("end", [1000, 990])
def test_a_stretch_that_ends_before_it_surely_began_is_none_and_nothing_grows_onto_it(end: int) -> None:
    stretches = told(100, (1000, end), (1050, 1090))

    assert lengths(stretches) == [40]
    assert stretches.count == 1


def test_a_stretch_that_lasts_is_certain_as_far_as_everything_is_told() -> None:
    stretches = Stretches(0)
    stretches.begin(1000, 7)

    assert stretches.lasting(1000) is None
    assert stretches.lasting(1400) == Together(400, (7,), "")


def test_a_stretch_that_lasts_is_grown_onto_the_one_before() -> None:
    stretches = told(100, (1000, 1050))
    stretches.begin(1120, 7)

    assert lengths(stretches, 1110) == [50]
    assert stretches.lasting(1200) == Together(200, (7,), "")


def test_a_stretch_that_is_over_counts_once_nothing_can_have_ended_it_before() -> None:
    stretches = told(0, (1000, 2000))

    assert lengths(stretches, 1999) == []
    assert stretches.lasting(1500) == Together(500, (0, 1), "")
    assert lengths(stretches, 2000) == [1000]
    assert lengths(stretches, 3000) == []


def test_what_is_told_later_to_have_ended_before_shortens_every_stretch_that_waits() -> None:
    stretches = told(0, (1000, 2000), (2100, 2200))
    stretches.shorten(1200)

    assert lengths(stretches) == [200]


def test_a_point_that_was_not_known_darkens_what_lasted_longer_and_what_grows_onto_it() -> None:
    stretches = told(100, (1000, 1100), (1300, 1400), (1450, 1500))
    stretches.darken(1200, "flame")
    stretches.darken(1200, "blower")

    assert [one.dark for one in stretches.over(None)] == ["", "flame", "flame"]


@pytest.mark.parametrize(
    ("tolerate", "remark"), [(None, "pulses under 500 ms are let pass: they may go unseen"), (600, "")]
)
def test_a_pass_says_which_pulses_it_lets_pass_where_the_file_does_not(tolerate: int | None, remark: str) -> None:
    assert blinded(Outcome(Verdict.PASS), tolerate, 500).remark == remark
