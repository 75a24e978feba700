"""The refrigerant side of a one-stage cooling circuit: two pressures, and the heat that the coil takes from the air.

Each pressure moves towards an end as one exponential. The ends come from the saturation curve of R-410A (published
pressure-temperature tables, met within 1 % between -18 and 65 °C): condensing at the outdoor air plus a split,
evaporating at the room air less a split, both at the outdoor air's once at rest. Pressures are gauge, in pascal.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ClassVar

from stagecall.plant.air import Store
from stagecall.plant.motors import InductionMotor
from stagecall.plant.parameters import Airflow, Conductance, Difference, Parameters, Power, Share, Time
from stagecall.plant.part import Bench, Medium, Part

_ATMOSPHERE = 101_325.0
_AT_21_C = 215.7 * 6894.757
_SLOPE = 2388.0
ICE_SPLIT = 40.0
"""K that the evaporating temperature falls with a coil that is all ice: low-pressure switches open well before."""
_RATED_OUTDOOR, _RATED_ROOM = 35.0, 26.7
"""°C outdoors and indoors at which capacities and running amps are rated."""
_POLYTROPIC = 0.13
"""Exponent of the pressure ratio in a compressor's work: (n - 1) / n with n = 1.15 (trade knowledge, no published
source found)."""
_AMPS_OF_NO_LOAD = 0.35
"""Share of the rated amps that a compressor draws without any work (trade knowledge, no published source found)."""


def saturation(temperature: float) -> float:
    """Gauge pressure of R-410A at *temperature* °C."""
    kelvin = max(temperature, -80.0) + 273.15
    return _AT_21_C * math.exp(_SLOPE * (1 / 294.26 - 1 / kelvin)) - _ATMOSPHERE


def work(high: float, low: float) -> float:
    """What a compressor takes up between two gauge pressures, in proportion: what it sucks in times its lift."""
    high, low = high + _ATMOSPHERE, low + _ATMOSPHERE
    return low * (math.pow(max(high / low, 1.0), _POLYTROPIC) - 1)


class Side:
    """One pressure: it moves to ``end`` with a time constant."""

    def __init__(self, circuit: RefrigerantCircuit, pressure: float) -> None:
        self._circuit = circuit
        self._then, self._since = pressure, 0
        self.end, self._time = pressure, 1.0
        self._listeners: list[Callable[[], None]] = []

    def now(self) -> float:
        """Pascal now."""
        return self.after(0)

    def after(self, ms: float) -> float:
        """Pascal that many ms from now, as things now stand."""
        return self.end + (self._then - self.end) * math.exp(-(self._circuit.now + ms - self._since) / self._time)

    def reaches(self, pressure: float) -> int | None:
        """Ms until that pressure; None where it does not come to it."""
        ratio = (self.now() - self.end) / (pressure - self.end) if pressure != self.end else 0.0
        return max(1, math.ceil(self._time * math.log(ratio))) if ratio > 1 else None

    def heads_for(self, end: float, time: float) -> None:
        """Take another course."""
        self._then, self._since = self.now(), self._circuit.now
        self.end, self._time = end, max(1.0, time)
        for listener in self._listeners:
            listener()

    def starts_at(self, pressure: float) -> None:
        """Have stood at that pressure for long."""
        self._then = self.end = pressure

    def changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* at each change of course."""
        self._listeners.append(listener)


class RefrigerantParameters(Parameters, frozen=True, kw_only=True):
    """``capacity`` is total, at 35 °C outdoors, and falls by ``derating`` of itself for each kelvin above.

    ``coil_time_constant`` and ``coil_effectiveness`` hold at ``rated_airflow``; ``coil_still`` is the coil's gain from
    still air. ``charge``: share of the right charge; more than all of it raises the pressures and cools no better.
    ``ice``: share of the coil that is iced over; it lets no air through and takes no heat, and the low side falls by up
    to ``ICE_SPLIT`` (trade knowledge, no published source found). ``valves``: share of what a sound compressor pumps
    that worn valves (or scrolls) still do; its pressures come as much less apart. ``dirt``: kelvin that a dirty outdoor
    coil condenses higher.
    """

    capacity: Power
    sensible_share: Share
    derating: Share
    condensing_split: Difference
    condensing_split_still: Difference
    evaporating_split: Difference
    high_side_time: Time
    low_side_time: Time
    equalising_time: Time
    rated_airflow: Airflow
    coil_time_constant: Time
    coil_effectiveness: Share
    coil_still: Conductance
    charge: Share = 1.0
    ice: Share = 0.0
    dirt: Difference = 0.0
    valves: Share = 1.0


class RefrigerantCircuit(Part):
    """What the compressor pumps round; ``high`` and ``low`` are where switches are joined."""

    takes: ClassVar[type[Parameters]] = RefrigerantParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "compressor": "shaft",
        "fan": "shaft",
        "high": "refrigerant",
        "low": "refrigerant",
    }
    p: RefrigerantParameters

    def __init__(self, bench: Bench, name: str, parameters: RefrigerantParameters) -> None:
        super().__init__(bench, name, parameters)
        self._high, self._low = Side(self, 0.0), Side(self, 0.0)
        self._coil: Store = bench.air.store(
            parameters.coil_time_constant,
            parameters.coil_effectiveness,
            parameters.coil_still,
            parameters.rated_airflow,
        )

    def side(self, name: str) -> Side:
        """``high`` or ``low``."""
        return self._high if name == "high" else self._low

    def connect(self) -> None:
        """Follow the compressor, the outdoor fan and the surroundings."""
        self.bench.air.passage *= 1 - self.p.ice
        at_rest = saturation(self.bench.air.outdoor) * self.p.charge
        self._high.starts_at(at_rest)
        self._low.starts_at(at_rest)
        self._compressor = self.joined("compressor", InductionMotor)
        self._fan = self.joined("fan", InductionMotor)
        self._compressor.turning.listen(self._changed)
        self._fan.turning.listen(self._changed)
        self.bench.air.surroundings_changed(self._changed)

    def _changed(self, _: object = None) -> None:
        p, air = self.p, self.bench.air
        if self._compressor.turning.value:
            split = p.condensing_split if self._fan.turning.value else p.condensing_split_still
            at_rest = saturation(air.outdoor) * p.charge
            high = saturation(air.outdoor + split + p.dirt) * p.charge
            self._high.heads_for(at_rest + (high - at_rest) * p.valves, p.high_side_time)
            evaporating = air.room - p.evaporating_split - p.ice * ICE_SPLIT - self.starved()
            low = saturation(evaporating) * p.charge
            self._low.heads_for(at_rest + (low - at_rest) * p.valves, p.low_side_time)
            self._load_compressor()
            derated = (1 - p.derating * (air.outdoor - _RATED_OUTDOOR)) * (1 - p.ice)
            air.set_heat(
                self._coil, -p.capacity * self.pumped() * p.sensible_share * derated * min(p.charge, 1.0) * p.valves
            )
        else:
            at_rest = saturation(air.outdoor) * p.charge
            self._high.heads_for(at_rest, p.equalising_time)
            self._low.heads_for(at_rest, p.equalising_time)
            air.set_heat(self._coil, 0.0)

    def _load_compressor(self) -> None:
        """Its amps follow the pressures that it heads for."""
        p = self.p
        rated = work(saturation(_RATED_OUTDOOR + p.condensing_split), saturation(_RATED_ROOM - p.evaporating_split))
        share = self.pumped() * p.valves * work(self._high.end, self._low.end) / rated
        self._compressor.labours(_AMPS_OF_NO_LOAD + (1 - _AMPS_OF_NO_LOAD) * share)

    def starved(self) -> float:
        """K that the evaporating temperature falls for want of refrigerant."""
        return 0.0

    def pumped(self) -> float:
        """What share of its capacity the compressor pumps when it runs."""
        return 1.0
