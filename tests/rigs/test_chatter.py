"""More than four reversals within a second are one level, logged once with its count."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stagecall.model.event import Call, Edge, Event
from stagecall.rigs.chatter import ChatterFold


def flips(*times: int, point: str = "contactor", first: str = "on") -> list[Event]:
    other = {"on": "off", "off": "on"}[first]
    return [Edge(t=t, point=point, state=first if i % 2 == 0 else other) for i, t in enumerate(times)]


def folded(events: list[Event], polls: list[int]) -> list[tuple[int, str, str, int]]:
    fold = ChatterFold()
    out: list[Event] = []
    last = -1
    for poll in polls:
        released, settled = fold.feed([event for event in events if last < event.t <= poll], poll)
        out += released
        assert all(event.t <= settled for event in released)
        last = poll
    return [(e.t, e.point, e.state, e.count) for e in out if isinstance(e, Edge)]


def test_four_reversals_in_a_second_are_passed_on_as_they_are() -> None:
    events = flips(1000, 1200, 1400, 1600)

    assert [row[2] for row in folded(events, [10_000])] == ["on", "off", "on", "off"]


def test_five_reversals_in_a_second_become_one_chatter_with_its_count_then_the_state_it_rests_in() -> None:
    events = flips(1000, 1200, 1400, 1600, 1800)

    assert folded(events, [10_000]) == [(1000, "contactor", "chatter", 5), (1800, "contactor", "on", 0)]


def test_long_chatter_is_logged_once() -> None:
    events = flips(*range(1000, 61_000, 150))

    rows = folded(events, [100_000])

    assert [row[2] for row in rows] == ["chatter", "off"]
    assert rows[1][0] == 60_850


def test_another_point_is_not_dragged_in_but_keeps_its_place() -> None:
    events = sorted([*flips(1000, 1100, 1200, 1300, 1400), *flips(1150, point="blower")], key=lambda e: e.t)

    assert [(row[1], row[2]) for row in folded(events, [10_000])] == [
        ("contactor", "chatter"),
        ("blower", "on"),
        ("contactor", "on"),
    ]


def test_nothing_is_settled_beyond_an_edge_that_is_still_held() -> None:
    fold = ChatterFold()

    released, settled = fold.feed(flips(1000), 1500)

    assert (released, settled, fold.due) == ([], 999, 2000)


def test_calls_wait_behind_held_edges_and_are_never_folded() -> None:
    fold = ChatterFold()
    call = Call(t=1100, terminal="Y1", state="on")

    first, _ = fold.feed([*flips(1000), call], 1500)
    second, settled = fold.feed([], 2000)

    assert first == []
    assert [type(event) for event in second] == [Edge, Call]
    assert settled == 2000


@given(
    st.lists(st.integers(0, 8000), max_size=30, unique=True).map(sorted),
    st.lists(st.integers(0, 12_000), max_size=12, unique=True).map(sorted),
)
def test_what_comes_out_does_not_depend_on_how_often_it_is_polled(times: list[int], polls: list[int]) -> None:
    events = flips(*times)

    assert folded(events, [*polls, 20_000]) == folded(events, [20_000])


@pytest.mark.parametrize("count", range(1, 12))
def test_the_last_state_is_always_the_true_one(count: int) -> None:
    events = flips(*(1000 + 90 * i for i in range(count)))

    assert folded(events, [30_000])[-1][2] == events[-1].state  # type: ignore[union-attr]


def test_a_call_of_the_same_moment_waits_for_an_edge_that_is_still_held() -> None:
    fold = ChatterFold()

    released, settled = fold.feed([Call(t=1000, terminal="Y1", state="on"), *flips(1000)], 1500)

    assert (released, settled) == ([], 999)
