"""Which moment an anchor stands for."""

from __future__ import annotations

import pytest

from stagecall.judge.anchors import STEP, Anchors
from stagecall.judge.intervals import Mark
from stagecall.judge.state import World
from stagecall.model.event import PointBounds, Snapshot, SourceBounds
from stagecall.model.sequence import Anchor

BEGIN = Mark(1000, 1000, 5)
COMPRESSOR_OFF = Anchor("point", "compressor", "off")
Y1_ON = Anchor("call", "Y1", "on")


@pytest.fixture
def world() -> World:
    """A compressor that went off in the second sequence of the log, and a call that was made long before."""
    world = World(SourceBounds(points={"compressor": PointBounds(sensed="contact")}))
    world.take(Snapshot(points={"compressor": "on"}))
    compressor, y1 = world.points["compressor"], world.track("call:Y1")
    compressor.state, compressor.edges["off"] = "off", (Mark(700, 710, 3), 2)
    y1.state, y1.edges["on"] = "on", (Mark(300, 310, 2), 1)
    return world


def test_a_step_that_changes_nothing_is_counted_from_its_begin(world: World) -> None:
    assert Anchors(world, BEGIN, sequence=2).find(STEP) == BEGIN


def test_a_witnessed_step_is_counted_from_the_anchor_it_was_given(world: World) -> None:
    assert Anchors(world, BEGIN, {}, (940, 990), 2).find(STEP) == Mark(940, 990, 5)


def test_a_step_is_counted_from_the_hull_of_the_first_of_each_edge_it_awaits(world: World) -> None:
    anchors = Anchors(world, BEGIN, {"Y1": "off", "power": "off", "switch:limit": "open"}, None, 2)

    assert anchors.find(STEP) is None
    assert anchors.change("call:Y1", "off", 1010, 1030, 6) == []
    assert anchors.change("call:Y1", "off", 1200, 1300, 7) == []
    assert anchors.change("power", "off", 1005, 1040, 8) == []
    assert anchors.change("switch:limit", "closed", 1050, 1060, 9) == []
    assert anchors.change("switch:limit", "open", 1070, 1090, 10) == [(STEP, Mark(1005, 1090, 10))]
    assert not anchors.waiting


def test_a_point_is_counted_from_its_edge_earlier_in_the_sequence(world: World) -> None:
    assert Anchors(world, BEGIN, sequence=2).find(COMPRESSOR_OFF) == Mark(700, 710, 3)


def test_a_point_is_not_counted_from_an_edge_of_another_sequence(world: World) -> None:
    anchors = Anchors(world, BEGIN, sequence=3)

    assert anchors.find(COMPRESSOR_OFF) is None
    assert anchors.change("compressor", "on", 1100, 1100, 6) == []
    assert anchors.change("compressor", "off", 1200, 1210, 7) == [(COMPRESSOR_OFF, Mark(1200, 1210, 7))]


def test_a_point_that_has_left_the_state_is_counted_from_the_next_edge(world: World) -> None:
    world.points["compressor"].state = "on"

    assert Anchors(world, BEGIN, sequence=2).find(COMPRESSOR_OFF) is None


def test_nothing_is_counted_across_a_snapshot(world: World) -> None:
    world.take(Snapshot(points={"compressor": "off"}, calls=("Y1",)))

    assert Anchors(world, BEGIN, sequence=2).find(COMPRESSOR_OFF) is None
    assert Anchors(world, BEGIN, sequence=2).find(Y1_ON) is None


@pytest.mark.parametrize(
    ("lost", "compressor", "call"),
    [
        (frozenset({"compressor"}), None, Mark(300, 310, 2)),
        (frozenset({"blower"}), Mark(700, 710, 3), Mark(300, 310, 2)),
        (None, None, None),
    ],
)
def test_nothing_is_counted_across_a_gap_of_its_own(
    world: World, lost: frozenset[str] | None, compressor: Mark | None, call: Mark | None
) -> None:
    world.forget(lost)

    assert Anchors(world, BEGIN, sequence=2).find(COMPRESSOR_OFF) == compressor
    assert Anchors(world, BEGIN, sequence=2).find(Y1_ON) == call


def test_a_call_carried_over_keeps_its_time_even_from_another_sequence(world: World) -> None:
    assert Anchors(world, BEGIN, sequence=2).find(Y1_ON) == Mark(300, 310, 2)


def test_a_call_that_the_step_awaits_is_counted_from_that_edge(world: World) -> None:
    anchors = Anchors(world, BEGIN, {"Y1": "on"}, None, 2)

    assert anchors.find(Y1_ON) is None
    assert anchors.change("call:Y1", "on", 1010, 1020, 6) == [(Y1_ON, Mark(1010, 1020, 6))]


def test_a_monitor_never_looks_back(world: World) -> None:
    assert Anchors(world, BEGIN).find(COMPRESSOR_OFF) is None
