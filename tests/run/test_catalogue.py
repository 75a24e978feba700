"""Where faults sit, and that each change is tried once."""

from __future__ import annotations

import msgspec
import pytest

from stagecall.documents import Library
from stagecall.errors import UsageError
from stagecall.model.fault import AppliedFault
from stagecall.plant import befalling, blueprint
from stagecall.plant.befalling import distinct
from stagecall.run.catalogue import CONDUCTOR, TOGETHER, catalogue
from stagecall.run.prepare import parse_fault

LIBRARY = Library()
HERE = catalogue(LIBRARY, "split-gas-cool")
TEXTS = {entry.text for entry in HERE}
CONDUCTORS = [one.name for one in LIBRARY.load("system", "split-gas-cool").document.conductors]


def test_every_conductor_is_open_loose_and_badly_joined_once() -> None:
    opened = {f"conductor-open@{name}" for name in CONDUCTORS}
    named = {"conductor-open@thermostat-Y1": "y-open@thermostat-Y1", "conductor-open@outdoor-C": "c-lost@outdoor-C"}

    assert {named.get(text, text) for text in opened} <= TEXTS
    assert not named.keys() & TEXTS
    for fault in ("conductor-joint", "conductor-loose"):
        assert {f"{fault}@{name}" for name in CONDUCTORS} <= TEXTS


def test_a_pair_is_crossed_or_shorted_once_and_a_common_not_to_itself() -> None:
    assert "conductor-short-to-common@outdoor-C" not in TEXTS
    assert len([text for text in TEXTS if text.startswith("conductor-crossed")]) == len(CONDUCTORS) - 2
    assert ("conductor-short-to-neighbour@outdoor-Y" in TEXTS) + ("conductor-short-to-common@outdoor-Y" in TEXTS) == 1


def test_a_part_fault_befalls_parts_of_its_own_name_and_kind() -> None:
    assert "blower-relay-stuck-on@furnace.blower_relay" in TEXTS
    assert "blower-relay-stuck-on@furnace.ignitor_relay" not in TEXTS


def test_faults_together_need_all_their_places() -> None:
    assert "contactor-welded-and-blower-dead" in TEXTS
    assert "contactor-welded-and-blower-dead" not in {entry.text for entry in catalogue(LIBRARY, "two-wire-heat-only")}


def test_a_fault_that_changes_nothing_is_left_out() -> None:
    system = LIBRARY.load("system", "split-gas-cool").document
    plan = blueprint(system, LIBRARY.profiles(system))
    welded = LIBRARY.load("fault", "contactor-welded").document
    free = msgspec.structs.replace(welded, change={"contacts": "free"})

    found = distinct([AppliedFault(fault=one, target="condenser.contactor") for one in (free, welded, welded)], plan)

    assert [one.fault for one in found] == [welded]


def test_each_entry_tells_its_part() -> None:
    assert {entry.part for entry in HERE} >= {CONDUCTOR, TOGETHER, "contactor", "furnace_board"}


@pytest.mark.parametrize("system", LIBRARY.names("system"))
def test_every_entry_can_be_put_in_by_its_text(system: str) -> None:
    for entry in catalogue(LIBRARY, system):
        applied = parse_fault(LIBRARY, entry.text)
        assert all(one.target for one in applied)


GENERIC = [
    f"conductor-{what}" for what in ("open", "short-to-common", "short-to-neighbour", "crossed", "joint", "loose")
]


@pytest.mark.parametrize("system", LIBRARY.names("system"))
def test_every_conductor_of_every_system_has_all_that_can_befall_it(system: str) -> None:
    installed = LIBRARY.load("system", system).document
    plan = blueprint(installed, LIBRARY.profiles(installed))
    can_be = {befalling._network(plan, ())}
    for entry in catalogue(LIBRARY, system):
        can_be |= {befalling._effect(one, plan) for one in parse_fault(LIBRARY, entry.text)}
    for fault in GENERIC:
        for conductor in installed.conductors:
            applied = AppliedFault(fault=LIBRARY.load("fault", fault).document, target=conductor.name)
            try:
                effect = befalling._effect(applied, plan)
            except UsageError:
                continue
            assert effect in can_be, f"{fault}@{conductor.name}"


def test_a_fault_that_can_sit_anywhere_wants_a_place() -> None:
    with pytest.raises(UsageError, match="say where, as conductor-open@TARGET"):
        parse_fault(LIBRARY, "conductor-open")


def test_faults_together_take_no_place_of_their_own() -> None:
    with pytest.raises(UsageError, match="give these a target or severity"):
        parse_fault(LIBRARY, "contactor-welded-and-blower-dead@furnace.blower")
    assert len(parse_fault(LIBRARY, "contactor-welded-and-blower-dead")) == 2
