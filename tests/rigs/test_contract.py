"""What every rig keeps to. A new rig is enrolled in ``RIGS`` and excused from nothing."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import msgspec
import pytest

from rigs.hand_rig import HandRig
from rigs.polled_plant import polled_mockup
from rigs.scripted_person import PromptRig
from stagecall.documents import Library
from stagecall.model.event import Call, Edge, Event, Power, Reading, Snapshot, Switch, earliest
from stagecall.model.sequence import Condition
from stagecall.rigs.contract import Move, Rig
from stagecall.rigs.faulty import FaultyRig
from stagecall.rigs.registry import RigSpec
from stagecall.rigs.simulated import prepare


def hand() -> Rig:
    rig = HandRig({"blower": "off", "contactor": "off"})
    for second in range(1, 30):
        rig.edge(second * 1700, "blower", "on" if second % 2 else "off")
    return rig


def simulated() -> Rig:
    library = Library()
    system = library.load("system", "split-gas-cool").document
    kit = library.load("kit", "full").document
    return prepare(RigSpec(system=system, profiles=library.profiles(system), kit=kit))(7, (), drawn=False)


def by_hand() -> Rig:
    rig = PromptRig()
    rig.survey((Condition("blower", "off"), Condition("contactor", "off")))
    return rig


RIGS: dict[str, Callable[[], Rig]] = {
    "hand": hand,
    "simulated": simulated,
    "by-hand": by_hand,
    "modbus": lambda: polled_mockup()[0],
    "faulty": lambda: FaultyRig(hand(), "gap", at=20_000),
}


class Enrolled(NamedTuple):
    """How a rig is made anew, and how it differs: ``same_stamps``, however often it is polled."""

    make: Callable[[], Rig]
    same_stamps: bool = True


@pytest.fixture(params=RIGS)
def enrolled(request: pytest.FixtureRequest) -> Enrolled:
    return Enrolled(RIGS[request.param])


def played(rig: Rig, until: int, every: int | None = None) -> list[Event]:
    """Everything a rig delivers while a blower call is made and dropped, power is cut and restored."""
    moves = {
        1_000: Move(calls=frozenset({"G"})),
        60_000: Move(calls=frozenset()),
        90_000: Move(power="off"),
        120_000: Move(power="on"),
    }
    events: list[Event] = []
    settled = -1
    for stop, move in [*moves.items(), (until, Move())]:
        while settled < stop:
            target = stop if every is None else min(stop, settled + every)
            batch = rig.poll(target)
            stamps = [event.t for event in batch.events]
            assert stamps == sorted(stamps)
            assert all(settled < t <= batch.settled for t in stamps)
            assert batch.settled >= settled
            settled = batch.settled
            events += batch.events
        rig._move(move)
    return events


def test_events_come_in_order_and_never_at_or_before_what_was_settled(enrolled: Enrolled) -> None:
    assert played(enrolled.make(), 150_000)


def test_an_edge_never_happened_after_its_stamp(enrolled: Enrolled) -> None:
    changes = [e for e in played(enrolled.make(), 150_000) if not isinstance(e, Snapshot | Reading)]

    assert all(0 <= earliest(event) <= event.t for event in changes)


def test_every_move_asked_for_is_reported(enrolled: Enrolled) -> None:
    events = played(enrolled.make(), 150_000)

    assert [(e.terminal, e.state) for e in events if isinstance(e, Call)] == [("G", "on"), ("G", "off")]
    assert [e.state for e in events if isinstance(e, Power)] == ["off", "on"]


def test_a_point_turns_only_to_a_state_it_was_not_in(enrolled: Enrolled) -> None:
    rig = enrolled.make()
    states = dict(rig.snapshot().points)

    for event in played(rig, 150_000):
        if isinstance(event, Edge):
            assert states[event.point] != event.state
            states[event.point] = event.state
        if isinstance(event, Snapshot):
            states = dict(event.points)


def test_only_declared_points_are_reported(enrolled: Enrolled) -> None:
    rig = enrolled.make()

    seen = {e.point for e in played(rig, 150_000) if isinstance(e, Edge | Reading)}

    assert seen <= set(rig.bounds.points)


def test_an_edge_is_no_wider_than_declared(enrolled: Enrolled) -> None:
    rig = enrolled.make()

    for event in played(rig, 150_000):
        if isinstance(event, Edge):
            assert event.t - earliest(event) <= rig.bounds.points[event.point].width
        if isinstance(event, Call | Power | Switch):
            assert event.t - earliest(event) <= rig.bounds.call_width


def test_what_is_delivered_does_not_depend_on_how_often_it_is_polled(enrolled: Enrolled) -> None:
    often, seldom = played(enrolled.make(), 150_000, every=173), played(enrolled.make(), 150_000)

    if enrolled.same_stamps:
        assert often == seldom
    assert [said(event) for event in often] == [said(event) for event in seldom]


def said(event: Event) -> Event:
    """The event without its stamps."""
    return msgspec.structs.replace(event, t=0, **({"e": 0} if isinstance(event, Call | Edge | Power | Switch) else {}))


def test_closing_twice_is_no_fault(enrolled: Enrolled) -> None:
    rig = enrolled.make()

    rig.close()
    rig.close()
