"""A plant with everything watched, so that a test reads as what was called and what then happened."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import msgspec

from stagecall.documents import Library
from stagecall.model.equipment import Equipment
from stagecall.model.fault import AppliedFault
from stagecall.model.system import System
from stagecall.plant import Blueprint, Plant, blueprint, build
from stagecall.points import Sensed, point
from stagecall.units import parse_quantity

LIBRARY = Library()
SYSTEMS = LIBRARY.names("system")
SPLITS = ("cooling-only", "split-gas-cool", "split-gas-cool-long")
"""A machine indoors with the one transformer, and a condensing unit outdoors."""
FAULTS = LIBRARY.names("fault")
S, MIN, H = 1000, 60_000, 3_600_000


def system(name: str) -> System:
    return LIBRARY.load("system", name).document


def profile(name: str) -> Equipment:
    return LIBRARY.load("equipment", name).document


@cache
def plan(name: str) -> Blueprint:
    return blueprint(system(name), LIBRARY.profiles(system(name)))


def fault(name: str, severity: str | None = None, target: str | None = None) -> AppliedFault:
    document = LIBRARY.load("fault", name).document
    return AppliedFault(
        fault=document, target=target or document.target, severity=parse_quantity(severity) if severity else None
    )


def wire_fault(change: str, target: str, joint: str | None = None) -> AppliedFault:
    """A fault of a conductor that the shipped catalogue may not hold."""
    document = msgspec.structs.replace(LIBRARY.load("fault", "y-open").document, wire=change)
    return AppliedFault(fault=document, target=target, severity=parse_quantity(joint) if joint else None)


class Traced:
    """A plant, and ``trace``: every change of every point by every means, ``(ms, "point by means", state)``."""

    def __init__(
        self,
        name: str = "split-gas-cool",
        *,
        settings: Mapping[str, str] = {},
        faults: tuple[AppliedFault, ...] = (),
        seed: int = 0,
        draw: bool = False,
        on: Blueprint | None = None,
    ) -> None:
        self.plant: Plant = build(on or plan(name), seed=seed, faults=faults, draw=draw, settings=settings)
        self.trace: list[tuple[int, str, str]] = []
        self.state: dict[str, str] = {}
        for point_name, means in self.plant.points().items():
            known = point(point_name)
            if known is not None and known.states:
                for sensed in means:
                    self._watch(point_name, sensed)

    def _watch(self, name: str, sensed: Sensed) -> None:
        key = f"{name} by {sensed}"

        def heard(ms: int, state: str) -> None:
            self.trace.append((ms, key, state))
            self.state[key] = state

        self.state[key] = self.plant.watch(name, sensed, None, heard)

    def call(self, *calls: str, run: int) -> Traced:
        """Make exactly these calls and let *run* ms pass."""
        self.plant.call(frozenset(calls))
        return self.wait(run)

    def wait(self, ms: int) -> Traced:
        self.plant.advance(self.plant.now + ms)
        return self

    def times(self, key: str, state: str) -> list[int]:
        """When a point turned to a state, ms."""
        return [ms for ms, name, new in self.trace if name == key and new == state]

    def at(self, key: str, state: str, after: int = 0) -> int:
        """The first time it did, from *after* on."""
        return next(ms for ms in self.times(key, state) if ms >= after)


COMPRESSOR, CONTACTOR, OUTDOOR_FAN = "compressor by amps", "contactor by coil_volts", "outdoor_fan by amps"
BLOWER, INDUCER, IGNITOR = "blower by amps", "inducer by amps", "ignitor by amps"
VALVE, FLAME = "gas_valve by coil_volts", "flame by flame_current"
DRAFT, LIMIT = "pressure_switch by contact", "limit by contact"
