"""A thermostat that calls on its own."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from stagecall.documents import Library
from stagecall.model.asking import ControlAsk
from stagecall.plant import Plant, blueprint, build

MINUTE = 60_000


@pytest.fixture
def plant() -> Plant:
    library = Library()
    system = library.load("system", "split-gas-cool").document
    return build(blueprint(system, library.profiles(system)))


@pytest.fixture
def standing(plant: Plant) -> Callable[[], set[str]]:
    calls: set[str] = set()
    plant.watch_calls(lambda _ms, call, state: calls.add(call) if state == "on" else calls.discard(call))
    return lambda: set(calls)


def test_heating_demand_calls_heat_and_ends_by_itself_when_the_room_is_warm(
    plant: Plant, standing: Callable[[], set[str]]
) -> None:
    plant.ask_control(ControlAsk(demand="heat", period="unoccupied"))
    plant.advance(MINUTE)
    before = standing()
    room = plant.read("room_air")
    plant.advance(600 * MINUTE)

    assert before == {"W1"}
    assert standing() in (set(), {"W1"})
    assert plant.read("room_air") == pytest.approx(room + 2.8, abs=1.0)


def test_cooling_demand_calls_compressor_and_fan_together(plant: Plant, standing: Callable[[], set[str]]) -> None:
    plant.ask_control(ControlAsk(demand="cool", period="unoccupied"))
    plant.advance(MINUTE)

    assert standing() == {"Y1", "G"}


def test_the_compressor_is_not_called_again_before_the_controls_own_minimum_off(
    plant: Plant, standing: Callable[[], set[str]]
) -> None:
    plant.ask_control(ControlAsk(demand="cool"))
    plant.advance(10 * MINUTE)
    plant.ask_control(ControlAsk(demand="none"))
    plant.advance(11 * MINUTE)
    plant.ask_control(ControlAsk(demand="cool"))
    plant.advance(14 * MINUTE + 50_000)
    held = standing()
    plant.advance(15 * MINUTE + 1_000)

    assert held == set()
    assert standing() == {"Y1", "G"}


def test_in_the_occupied_period_the_fan_runs_without_demand(plant: Plant, standing: Callable[[], set[str]]) -> None:
    plant.ask_control(ControlAsk(demand="none", period="occupied"))
    plant.advance(MINUTE)
    occupied = standing()
    plant.ask_control(ControlAsk(period="unoccupied"))
    plant.advance(2 * MINUTE)

    assert (occupied, standing()) == ({"G"}, set())


def test_an_override_lasts_its_time_and_no_longer(plant: Plant, standing: Callable[[], set[str]]) -> None:
    plant.ask_control(ControlAsk(demand="none", period="unoccupied"))
    plant.ask_control(ControlAsk(demand="none", override=True))
    plant.advance(119 * MINUTE)
    during = "G" in standing()
    plant.advance(121 * MINUTE)

    assert during
    assert "G" not in standing()


@pytest.mark.parametrize(
    ("system", "outdoor", "soon", "later"),
    [
        ("heat-pump-strips-o", 10.0, {"Y1", "G"}, {"Y1", "G"}),
        ("heat-pump-strips-o", 0.0, {"Y1", "G"}, {"Y1", "G", "W1"}),
        ("heat-pump-strips-o", -15.0, {"W1", "G"}, {"W1", "G"}),
        ("heat-pump-strips-b", 0.0, {"Y1", "G", "B"}, {"Y1", "G", "B", "W1"}),
    ],
)
def test_with_a_heat_pump_aux_heat_joins_after_its_time_and_both_have_their_lockouts(
    system: str, outdoor: float, soon: set[str], later: set[str]
) -> None:
    library = Library()
    document = library.load("system", system).document
    plant = build(blueprint(document, library.profiles(document)))
    calls: set[str] = set()
    plant.watch_calls(lambda _ms, call, state: calls.add(call) if state == "on" else calls.discard(call))
    plant.surroundings({"outdoor_air": outdoor, "room_air": 20.0})
    plant.ask_control(ControlAsk(demand="heat", period="unoccupied"))
    plant.advance(MINUTE)
    first = set(calls)
    plant.surroundings({"room_air": 20.0})
    plant.advance(11 * MINUTE)

    assert (first, set(calls)) == (soon, later)


def test_with_a_heat_pump_cooling_calls_the_valve_by_its_convention() -> None:
    library = Library()
    for system, calls_for in (("heat-pump-strips-o", {"Y1", "G", "O"}), ("heat-pump-strips-b", {"Y1", "G"})):
        document = library.load("system", system).document
        plant = build(blueprint(document, library.profiles(document)))
        calls: set[str] = set()
        plant.watch_calls(lambda _ms, call, state, calls=calls: calls.add(call) if state == "on" else None)  # type: ignore[misc]
        plant.ask_control(ControlAsk(demand="cool", period="unoccupied"))
        plant.advance(MINUTE)
        assert calls == calls_for
