"""Parts that cannot do what they are asked to, of every kind that has such a way to fail."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pytest
from traced import MIN, SYSTEMS, S, Traced, fault, plan, system

from stagecall.errors import UsageError
from stagecall.plant import build
from stagecall.plant.coils import CoilPart
from stagecall.plant.speed_calls import TAPS
from stagecall.plant.switches import ActedSwitch, SafetySwitch


class Sits(NamedTuple):
    """A part in some system."""

    system: str
    part: str


def first_of_each_kind(base: type) -> Iterator[Sits]:
    """One part of every kind made from *base*, where the library has one."""
    seen: set[type] = set()
    for name in SYSTEMS:
        for part, fitting in plan(name).fittings.items():
            if issubclass(fitting.kind, base) and fitting.kind not in seen:
                seen.add(fitting.kind)
                yield Sits(name, part)


@pytest.mark.parametrize("sits", tuple(first_of_each_kind(CoilPart)), ids=str)
def test_an_open_coil_never_pulls_in(sits: Sits) -> None:
    machine = Traced(sits.system, settings={f"{sits.part}.coil": "open"})
    part = machine.plant._parts[sits.part]
    assert isinstance(part, CoilPart)
    moves: list[bool] = []
    part.armature.listen(moves.append)
    calls = [call for call in system(sits.system).control.terminals if call not in {"R", "Rc", "Rh", "C"}]

    machine.call(*calls, run=10 * MIN)

    assert moves == []
    assert not part.armature.value


@pytest.mark.parametrize("sits", tuple(first_of_each_kind(SafetySwitch)), ids=str)
def test_a_switch_that_sticks_shows_it_where_it_is_opened_as_in_use(sits: Sits) -> None:
    machine = Traced(sits.system, settings={f"{sits.part}.contact": "stuck_closed"})
    switch = machine.plant._parts[sits.part]
    assert isinstance(switch, SafetySwitch)

    switch.lift(lifted=True)

    assert switch.closed.value is isinstance(switch, ActedSwitch)


def test_a_jumper_joins_two_screws_for_good() -> None:
    jumper = fault("fan-call-feeds-heat")
    strips = Traced("heat-pump-strips-o", faults=(jumper,)).call("G", run=MIN)
    assert strips.state["strip_1 by amps"] == "on"


def test_a_jumper_to_a_screw_that_is_not_there_is_refused_with_the_nearest() -> None:
    with pytest.raises(UsageError, match=r"'air_handler\.W1'"):
        build(plan("split-gas-cool"), seed=0, faults=(fault("fan-call-feeds-heat", target="furnace.G"),), draw=False)


def test_a_valve_that_stands_half_way_neither_heats_nor_cools() -> None:
    for calls in (("Y1", "G"), ("Y1", "G", "O")):
        sound = Traced("heat-pump-strips-o").call(*calls, run=15 * MIN).plant.read("air_split")
        half = Traced("heat-pump-strips-o", faults=(fault("reversing-valve-half-way"),)).call(*calls, run=15 * MIN)
        assert abs(half.plant.read("air_split")) < abs(sound) / 4


def test_a_check_valve_weakens_its_own_direction_only() -> None:
    def split(name: str | None, *calls: str) -> float:
        faults = (fault(name),) if name else ()
        return Traced("heat-pump-strips-o", faults=faults).call("Y1", "G", *calls, run=12 * MIN).plant.read("air_split")

    assert split("heating-check-valve-stuck") < 0.6 * split(None)
    assert split("heating-check-valve-stuck", "O") == pytest.approx(split(None, "O"), abs=0.1)
    assert split("cooling-check-valve-stuck", "O") > 0.6 * split(None, "O")
    assert split("cooling-check-valve-stuck") == pytest.approx(split(None), abs=0.1)


def test_a_slide_that_is_still_on_its_way_when_the_compressor_stops_stays_where_it_was() -> None:
    machine = Traced("heat-pump-strips-o", settings={"heat_pump.reversing_valve.shift_time": "60 s"})
    valve = machine.plant._parts["heat_pump.reversing_valve"]
    machine.call("Y1", "G", "O", run=40 * S).call("O", run=10 * MIN)
    assert not valve.cools.value  # type: ignore[attr-defined]

    machine.call("Y1", "G", "O", run=10 * MIN)
    assert valve.cools.value  # type: ignore[attr-defined]


def test_a_blower_that_has_lost_one_speed_call_hears_the_others() -> None:
    def blows(*calls: str) -> list[bool]:
        lost = [{"furnace.blower.lost_tap": tap} for tap in TAPS]
        return [
            Traced("two-stage-gas-cool", settings=one).call(*calls, run=2 * MIN).plant._air.flow > 0 for one in lost
        ]

    assert sorted(blows("G")) == [False, True, True, True, True]
    assert sorted(blows("W1")) == [False, True, True, True, True]


def test_a_valve_that_is_stuck_through_calls_the_boiler_without_a_call() -> None:
    machine = Traced("boiler-two-zones", settings={"zones.valve_1.body": "stuck_through"}).wait(MIN)
    assert machine.state["end_switch_1 by contact"] == "closed"
    assert machine.state["circulator by amps"] == "on"


def test_a_leak_board_that_does_not_notice_its_sensor_passes_the_cooling_call_on() -> None:
    machine = Traced("a2l-split", settings={"leak.board.notices": "no"}).call("Y1", "G", run=MIN)
    machine.plant.switch("leak_sensor", "open")
    assert machine.call("Y1", "G", run=6 * MIN).state["contactor by coil_volts"] == "on"
