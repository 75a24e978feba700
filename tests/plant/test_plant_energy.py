"""Nothing comes from nothing: volt-amperes in are the loads' and the losses', heat in the air is what machines give."""

from __future__ import annotations

from typing import Any

import pytest
from traced import MIN, SYSTEMS, S, Traced, system

from stagecall.circuit import Coil, Contact, Element, Source, Wire
from stagecall.circuit.network import LEAKAGE
from stagecall.plant.board import Board
from stagecall.plant.burner import Burner
from stagecall.plant.coils import CoilPart
from stagecall.plant.oil import OilBurner
from stagecall.plant.strips import Strip
from stagecall.plant.water import Boiler


def calls_of(name: str) -> tuple[tuple[str, ...], ...]:
    """Nothing; each call alone; all calls of cooling; all calls of heating."""
    control = system(name).control
    live = sorted(set(control.terminals) - {"R", "Rc", "Rh", "C"})
    cool = tuple(t for t in live if t[0] in "YG" or t == "O")
    heat = tuple(t for t in live if t[0] in "WGE")
    return ((), *((call,) for call in live), cool, heat, ("Y1", "W1", "G") if {"Y1", "W1", "G"} <= set(live) else ())


def ohms_of(element: Element, *, on: bool) -> complex | None:
    """An element's impedance by its own figures; None: it conducts nothing."""
    match element:
        case Wire():
            return element.ohms or None
        case Contact():
            return element.ohms if on else None
        case Coil():
            return element.sealed if on else element.unsealed
    raise AssertionError(element)


class Books:
    """What goes into the control circuit of a plant now, and where it goes: complex volt-amperes."""

    def __init__(self, plant: Any) -> None:
        electric = plant._electric
        network, state = electric._wiring.network, electric._state
        solution = network.solve(state)
        self.delivered = self.in_windings = 0j
        self.taken: dict[str, complex] = {}
        for index, element in enumerate(network.elements):
            if isinstance(element, Source):
                amps = solution.amps_phasor(index)
                emf = element.volts * state.scales[network._scale_of[index]]
                self.delivered += emf * amps.conjugate()
                self.in_windings += abs(amps) ** 2 * element.ohms
            else:
                ohms = ohms_of(element, on=bool(state.on >> index & 1))
                volts = solution.volts(element.a, element.b)
                if ohms is not None:
                    self.taken[element.name] = volts**2 / complex(ohms).conjugate()
        self.leaked = sum(abs(volts) ** 2 for volts in solution._volts) * LEAKAGE


def plated(plant: Any) -> dict[str, complex]:
    """What coils and boards take by what their plates say at 24 V, at the volts that they have."""
    found = {}
    for name, part in plant._parts.items():
        if isinstance(part, CoilPart) and part.p.coil == "sound":
            sealed, p = part.armature.value, part.p
            va = p.sealed_va if sealed else p.inrush_va
            factor = p.sealed_power_factor if sealed else p.inrush_power_factor
            found[name] = phasor(va, factor) * (part.level("coil").value / 24) ** 2
        elif isinstance(part, Board):
            found[f"{name}.own"] = (
                phasor(part.p.own_va, part.p.own_power_factor) * (part.level("supply").value / 24) ** 2
            )
            for terminal in part.inputs:
                found[f"{name}.input_{terminal}"] = part.level(terminal).value ** 2 / part.p.input_ohms
    return found


def phasor(va: float, power_factor: float) -> complex:
    return va * complex(power_factor, (1 - power_factor**2) ** 0.5)


@pytest.mark.parametrize("name", SYSTEMS)
def test_control_volt_amperes_in_are_those_of_the_loads_the_wires_and_the_windings(name: str) -> None:
    """At rest, just after each call (coils still unsealed), and once all has settled."""
    for calls in calls_of(name):
        traced = Traced(name)
        for ms in (15, 3 * S, 6 * MIN):
            plant = traced.call(*calls, run=ms).plant
            books, plates = Books(plant), plated(plant)
            wires = sum(va for element, va in books.taken.items() if element not in plates)
            loads = sum(plates.values())
            assert loads == pytest.approx(sum(books.taken[element] for element in plates), rel=1e-9), calls
            assert books.delivered == pytest.approx(loads + wires + books.in_windings + books.leaked, rel=1e-6), calls
            assert abs(loads) > 1.0, calls


def watts(part: Any) -> float:
    """Of a fire or strip as it burns now."""
    if isinstance(part, Burner):
        return part.heat() if part.burns else 0.0
    if isinstance(part, OilBurner):
        return part.p.input * part.p.efficiency if part.burns.value else 0.0
    return part.p.power if part.amps.value else 0.0


@pytest.mark.parametrize("name", [name for name in SYSTEMS if name != "boiler-two-zones"])
def test_heat_into_the_air_is_what_the_machines_give_less_what_they_store_and_lose(name: str) -> None:
    """Second by second through a call and what follows it, for each call of the system."""
    for calls in calls_of(name)[-3:]:
        traced = Traced(name)
        air = traced.plant._air
        air.settle()
        room, stored = air.room, sum(store.capacity * store.excess for store in air.stores)
        given = lost = carried = outdoors = 0.0
        for minutes, asked in ((12, calls), (6, ())):
            traced.plant.call(frozenset(asked))
            for _ in range(minutes * 60):
                air.settle()
                given += sum(store.heat for store in air.stores) / 2
                before = [air.delivered(), air.house.heat_loss * (air.room - air.outdoor)]
                standing = sum(store.still * store.excess for store in air.stores) if not air.flow else 0.0
                traced.wait(S)
                air.settle()
                given += sum(store.heat for store in air.stores) / 2
                carried += (before[0] + air.delivered()) / 2
                outdoors += (before[1] + air.house.heat_loss * (air.room - air.outdoor)) / 2
                still = sum(store.still * store.excess for store in air.stores) if not air.flow else 0.0
                lost += (standing + still) / 2
        stored = sum(store.capacity * store.excess for store in air.stores) - stored
        scale = abs(given) + 1e5
        assert carried == pytest.approx(given - stored - lost, abs=0.01 * scale), calls
        assert (air.room - room) * air.house.heat_capacity == pytest.approx(carried - outdoors, abs=0.01 * scale), calls


@pytest.mark.parametrize("name", SYSTEMS)
def test_what_heats_the_air_in_a_steady_call_is_fires_and_strips_at_their_capacity(name: str) -> None:
    heat = tuple(t for t in system(name).control.terminals if t[0] in "WG" and t != "G")
    traced = Traced(name).call(*heat, run=25 * MIN)
    parts = traced.plant._parts.values()
    fires = sum(watts(part) for part in parts if isinstance(part, Burner | OilBurner | Strip))
    if fires:
        assert traced.plant._air.delivered() == pytest.approx(fires, rel=0.01)
    else:
        assert not any(isinstance(part, Burner | OilBurner | Strip) for part in parts)


@pytest.mark.parametrize("name", ["boiler-two-zones", "boiler-separate-cooling"])
def test_heat_from_a_boiler_is_what_its_fire_gives_less_what_the_water_stores(name: str) -> None:
    traced = Traced(name)
    boiler = next(part for part in traced.plant._parts.values() if isinstance(part, Boiler))
    begun = boiler.temperature()
    taken = given = 0.0
    for minutes, asked in ((40, ("W1",)), (20, ())):
        traced.plant.call(frozenset(asked))
        for _ in range(minutes * 60):
            before = boiler.taken(), boiler.given()
            traced.wait(S)
            taken += (before[0] + boiler.taken()) / 2
            given += (before[1] + boiler.given()) / 2
    assert taken > 1e6
    stored = (boiler.temperature() - begun) * boiler.p.heat_capacity
    assert given == pytest.approx(taken - stored, abs=0.01 * taken)
