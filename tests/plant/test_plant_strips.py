"""Electric strips: sequencers and an electronic board, the blower interlock one way only, cut-outs, heat in the air."""

from __future__ import annotations

from itertools import pairwise

import pytest
from traced import BLOWER, MIN, S, Traced

STRIPS = tuple(f"strip_{number} by amps" for number in (1, 2, 3))
TWO, ONE_CALL, BOARD = "heat-pump-strips-o", "heat-pump-strips-b", "heat-pump-two-stage"


def test_a_sequencer_makes_its_strip_late_and_breaks_it_late() -> None:
    unit = Traced(TWO).call("W1", "G", run=5 * MIN).call("G", run=5 * MIN)
    assert unit.at(STRIPS[0], "on") == pytest.approx(20 * S, abs=100)
    assert unit.at(STRIPS[0], "off") - 5 * MIN == pytest.approx(15 * S, abs=100)


def test_two_contacts_of_one_sequencer_make_in_turn_and_break_in_reverse() -> None:
    unit = Traced(ONE_CALL).call("W1", "G", run=5 * MIN).call("G", run=5 * MIN)
    first, second = STRIPS[:2]
    assert unit.at(second, "on") - unit.at(first, "on") == pytest.approx(20 * S, abs=100)
    assert unit.at(first, "off") - unit.at(second, "off") == pytest.approx(20 * S, abs=100)


def test_a_call_shorter_than_the_make_time_brings_no_strip() -> None:
    unit = Traced(TWO).call("W1", run=10 * S).call(run=5 * MIN)
    assert not unit.times(STRIPS[0], "on")


def test_an_electronic_board_brings_its_strips_one_by_one_and_lets_the_last_on_go_first() -> None:
    unit = Traced(BOARD).call("W1", "W2", "W3", "G", run=5 * MIN).call("G", run=5 * MIN)
    ons, offs = ([unit.at(strip, state) for strip in STRIPS] for state in ("on", "off"))
    assert [later - earlier for earlier, later in pairwise(ons)] == pytest.approx([12 * S] * 2, abs=50)
    assert [earlier - later for earlier, later in pairwise(offs)] == pytest.approx([12 * S] * 2, abs=50)


@pytest.mark.parametrize("name", [TWO, ONE_CALL, BOARD])
def test_heat_brings_the_blower_and_the_blower_brings_no_heat(name: str) -> None:
    unit = Traced(name).call("W1", run=5 * MIN).call(run=5 * MIN)
    assert unit.at(BLOWER, "on") <= unit.at(STRIPS[0], "on") + 100
    assert (
        unit.at(BLOWER, "off")
        >= max(unit.times(strip, "off")[-1] for strip in STRIPS if unit.times(strip, "off")) - 100
    )
    unit = Traced(name).call("G", run=10 * MIN)
    assert not any(unit.times(strip, "on") for strip in STRIPS)


def test_the_electronic_board_keeps_the_blower_for_its_off_delay_after_the_last_strip() -> None:
    unit = Traced(BOARD).call("W1", run=5 * MIN).call(run=5 * MIN)
    assert unit.at(BLOWER, "off") - unit.at(STRIPS[0], "off") == pytest.approx(45 * S, abs=200)


@pytest.mark.parametrize(("calls", "kilowatts"), [(("W1",), 4.8), (("W1", "W2"), 9.6), (("W1", "W2", "W3"), 14.4)])
def test_the_rise_is_the_strips_heat_over_what_the_air_carries(calls: tuple[str, ...], kilowatts: float) -> None:
    unit = Traced(BOARD).call("G", *calls, run=5 * MIN)
    assert unit.plant.read("air_split") * 1.8 == pytest.approx(kilowatts * 3413 / (1.08 * 1200), rel=0.02)


def test_without_air_a_cut_out_opens_and_closes_again() -> None:
    unit = Traced(TWO, settings={"air_handler.blower.motor": "dead"}).call("W1", run=20 * MIN)
    ons, offs = unit.times(STRIPS[0], "on"), unit.times(STRIPS[0], "off")
    assert 20 * S < offs[0] - ons[0] < 5 * MIN
    assert len(ons) >= 2


def test_a_healthy_air_handler_never_opens_a_cut_out() -> None:
    unit = Traced(BOARD).call("G", "W1", "W2", "W3", run=60 * MIN)
    assert [len(unit.times(strip, "on")) for strip in STRIPS] == [1, 1, 1]
    assert not any(unit.times(strip, "off") for strip in STRIPS)


def test_a_burnt_out_strip_gives_no_heat_and_draws_nothing() -> None:
    unit = Traced(TWO, settings={"air_handler.strip_1.element": "open"}).call("G", "W1", run=5 * MIN)
    assert not unit.times(STRIPS[0], "on")
    assert unit.plant.read("air_split") == pytest.approx(0.0, abs=0.01)


def test_a_board_that_loses_its_power_drops_every_strip_at_once() -> None:
    unit = Traced(BOARD).call("G", "W1", "W2", run=5 * MIN)
    unit.plant.power(False)
    unit.wait(S)
    assert [unit.state[strip] for strip in STRIPS] == ["off", "off", "off"]
