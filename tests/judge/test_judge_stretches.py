"""Times in which several conditions hold together."""

from __future__ import annotations

from stagecall.judge.stretch import Stretch, SureStretch


def test_a_stretch_is_as_long_as_from_its_begin_to_its_end() -> None:
    stretch = Stretch(100)

    assert stretch.begin(1000)
    assert stretch.finish(1250) == 250


def test_stretches_parted_by_less_than_is_tolerated_are_one() -> None:
    stretch = Stretch(100)
    stretch.begin(1000)
    stretch.finish(1050)

    assert not stretch.begin(1149)
    assert stretch.finish(1180) == 180


def test_stretches_parted_by_what_is_tolerated_are_two() -> None:
    stretch = Stretch(100)
    stretch.begin(1000)
    stretch.finish(1050)

    assert stretch.begin(1150)
    assert stretch.finish(1180) == 30


def test_a_stretch_that_ends_before_it_surely_began_is_none_and_grows_into_nothing() -> None:
    stretch = Stretch(100)
    stretch.begin(1000)

    assert stretch.finish(1000) == 0
    assert stretch.begin(1050)


def test_a_time_that_goes_on_is_certain_as_far_as_everything_is_told() -> None:
    sure = SureStretch(0)
    sure.begin(1000, 7)

    assert sure.certain(900) == (0, (7,))
    assert sure.certain(1400) == (400, (7,))


def test_a_time_that_is_over_is_certain_once_nothing_can_have_ended_it_before() -> None:
    sure = SureStretch(0)
    sure.begin(1000, 7)
    sure.leave(2000, 9)

    assert sure.certain(1500) == (500, (7, 9))
    assert sure.certain(2000) == (1000, (7, 9))
    assert sure.certain(3000) == (0, ())


def test_another_that_is_told_later_to_have_ceased_before_shortens_it() -> None:
    sure = SureStretch(0)
    sure.begin(1000, 7)
    sure.leave(2000, 9)
    sure.leave(1200, 10)

    assert sure.certain(3000) == (200, (7, 9))


def test_sure_times_grow_together_only_over_what_was_surely_held() -> None:
    sure = SureStretch(100)
    sure.begin(1000, 1)
    sure.leave(990, 2)
    sure.begin(1050, 3)
    sure.leave(1090, 4)

    assert sure.certain(2000) == (40, (3, 4))
