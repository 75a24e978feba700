"""The water of a boiler in closed form, and what acts on it and feels it: burner, circulators, temperature switches.

One well-mixed mass of water and iron. While no radiator runs it only loses to the cellar; radiators give to the room,
a tank's coil to the tank, each in proportion to its excess. What the room gains is left out: within an hour it is less
than what a house of common mass can show. All temperatures in °C, heat in watts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import ClassVar, Literal

from stagecall.plant.actuators import ZoneValve
from stagecall.plant.coils import GasValve
from stagecall.plant.line import Load
from stagecall.plant.parameters import (
    Amps,
    Conductance,
    Difference,
    HeatCapacity,
    Parameters,
    Power,
    Share,
    Temperature,
    Time,
)
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Agenda, LookAhead, Signal
from stagecall.plant.switches import SafetySwitch, SwitchParameters


class CirculatorParameters(Parameters, frozen=True, kw_only=True):
    """A small pump."""

    running_amps: Amps
    motor: Literal["sound", "dead"] = "sound"


class Circulator(Load):
    """A circulator; ``turning`` says whether it moves water."""

    takes: ClassVar[type[Parameters]] = CirculatorParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "shaft": "shaft"}
    p: CirculatorParameters

    def __init__(self, bench: Bench, name: str, parameters: CirculatorParameters) -> None:
        super().__init__(bench, name, parameters)
        self.turning = Signal(value=False)

    def connect(self) -> None:
        """Turn when fed."""
        super().connect()
        self.fed.listen(self._run)

    def _run(self, fed: bool) -> None:
        turning = fed and self.p.motor == "sound"
        self.amps.set(self.p.running_amps if turning else 0.0)
        self.turning.set(turning)


class WaterBurnerParameters(Parameters, frozen=True, kw_only=True):
    """``light_time``: from gas to heat, lit from a standing pilot."""

    input: Power
    efficiency: Share
    light_time: Time
    pilot: Literal["lit", "out"] = "lit"


class WaterBurner(Part):
    """A boiler's burner with a standing pilot, behind its gas valve; ``heat`` is what reaches the water."""

    takes: ClassVar[type[Parameters]] = WaterBurnerParameters
    terminals: ClassVar[dict[str, Medium]] = {"gas": "gas", "heat": "heat"}
    p: WaterBurnerParameters

    def __init__(self, bench: Bench, name: str, parameters: WaterBurnerParameters) -> None:
        super().__init__(bench, name, parameters)
        self.heat = Signal(0.0)
        self._agenda = Agenda(self.env)

    def connect(self) -> None:
        """Burn while gas flows."""
        self._valve = self.joined("gas", GasValve)
        self._valve.flows.listen(self._changed)

    def _changed(self, flows: bool) -> None:
        self._agenda.forget()
        if not flows:
            self.heat.set(0.0)
        elif self.p.pilot == "lit":
            self._agenda.after(self.p.light_time, lambda: self.heat.set(self.p.input * self.p.efficiency))


class BoilerParameters(Parameters, frozen=True, kw_only=True):
    """``radiators``: of the whole house, per kelvin of water above the room. ``tank``: of a hot-water tank's coil."""

    heat_capacity: HeatCapacity
    radiators: Conductance
    standing_loss: Conductance
    tank: Conductance = 0.0
    tank_water: Temperature = 45.0


class Boiler(Part):
    """The body of a boiler. Radiators whose zone valves are shut take nothing, whatever the circulator does."""

    takes: ClassVar[type[Parameters]] = BoilerParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "burner": "heat", "water": "heat", "circulator": "shaft", "tank_circulator": "shaft",
    }  # fmt: skip
    p: BoilerParameters

    def __init__(self, bench: Bench, name: str, parameters: BoilerParameters) -> None:
        super().__init__(bench, name, parameters)
        self._then, self._since = bench.air.room, 0
        self._end, self._rate = bench.air.room, 1e-6
        self._listeners: list[Callable[[], None]] = []

    def connect(self) -> None:
        """Find the fire, and what carries heat away."""
        self._burners = [burner for burner, _ in self.all_joined("burner", WaterBurner)]
        self._circulators = [pump for pump, _ in self.all_joined("circulator", Circulator)]
        self._tank_circulators = [pump for pump, _ in self.all_joined("tank_circulator", Circulator)]
        self._valves = [part for part in self.bench.parts.values() if isinstance(part, ZoneValve)]
        for burner in self._burners:
            burner.heat.listen(self._changed)
        for pump in (*self._circulators, *self._tank_circulators):
            pump.turning.listen(self._changed)
        for valve in self._valves:
            valve.passes.listen(self._changed)
        self.bench.air.surroundings_changed(self._changed)

    def rest(self) -> None:
        """As cold as the room."""
        self._changed()

    def temperature(self) -> float:
        """°C now."""
        return self._end + (self._then - self._end) * math.exp(-self._rate * (self.now - self._since))

    def reading(self, name: str) -> float:  # noqa: ARG002 - a probe on the supply pipe
        """°C now."""
        return self.temperature()

    def given(self) -> float:
        """Watts that radiators, tank and cellar take now."""
        return sum(conductance * (self.temperature() - end) for conductance, end in self._takers())

    def taken(self) -> float:
        """Watts that the fire gives now."""
        return sum(burner.heat.value for burner in self._burners)

    def reaches(self, threshold: float) -> int | None:
        """Ms until that temperature as things stand; None where it does not come to it."""
        if threshold == self._end:
            return None
        ratio = (self.temperature() - self._end) / (threshold - self._end)
        return max(1, math.ceil(math.log(ratio) / self._rate)) if ratio > 1 else None

    def changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* at each change of course."""
        self._listeners.append(listener)

    def _takers(self) -> list[tuple[float, float]]:
        """Conductance and temperature of whatever takes heat now."""
        room = self.bench.air.room
        takers = [(self.p.standing_loss, room)]
        if any(pump.turning.value for pump in self._circulators):
            share = sum(valve.passes.value for valve in self._valves) / len(self._valves) if self._valves else 1.0
            takers.append((self.p.radiators * share, room))
        if any(pump.turning.value for pump in self._tank_circulators):
            takers.append((self.p.tank, self.p.tank_water))
        return takers

    def _changed(self, _: object = None) -> None:
        self._then, self._since = self.temperature(), self.now
        takers = self._takers()
        conductance = sum(taker for taker, _ in takers)
        self._end = (self.taken() + sum(taker * end for taker, end in takers)) / conductance
        self._rate = conductance / self.p.heat_capacity / 1000
        for listener in self._listeners:
            listener()


class Warm(Signal[bool]):
    """On above ``rises``, off again below ``falls``: a sensor's contact in a boiler's water."""

    __slots__ = ("_boiler", "_falls", "_look_ahead", "_rises")

    def __init__(self, boiler: Boiler, rises: float, falls: float) -> None:
        super().__init__(boiler.temperature() >= rises)
        self._boiler, self._rises, self._falls = boiler, rises, falls
        self._look_ahead = LookAhead(boiler.env, self._next_change, lambda: self.set(not self.value))
        boiler.changed(self._look_ahead.anew)

    def _next_change(self) -> int | None:
        return self._boiler.reaches(self._falls if self.value else self._rises)


class WaterLimitParameters(SwitchParameters, frozen=True, kw_only=True):
    """Opens on a rise, closes again ``closes_lower_by`` below."""

    opens: Temperature
    closes_lower_by: Difference


class WaterLimit(SafetySwitch):
    """An aquastat's high limit: it resets itself, and cycles the burner where the house takes less than it gives."""

    takes: ClassVar[type[Parameters]] = WaterLimitParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "water": "heat"}
    p: WaterLimitParameters

    def connect(self) -> None:
        """Feel the water."""
        hot = Warm(self.joined("water", Boiler), self.p.opens, self.p.opens - self.p.closes_lower_by)
        hot.listen(lambda hot: self.wants(not hot))
