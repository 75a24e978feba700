"""The refrigerant side of a heat pump: a reversing valve with a pilot, an outdoor coil that frosts, its sensors.

Heating follows the published table of one 2.5-ton unit, whose rise of the supply air falls in a straight line with the
outdoor air (10.5 °F + 0.324 of the outdoor temperature in °F, met within 0.7 °F). The outdoor coil and its frost each
move towards an end as one exponential.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Element
from stagecall.plant.air import first_change_of_sign
from stagecall.plant.coils import CoilParameters, CoilPart
from stagecall.plant.parameters import Difference, Parameters, Pressure, Share, Temperature, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.refrigerant import RefrigerantCircuit, RefrigerantParameters, saturation
from stagecall.plant.signals import LookAhead, Signal
from stagecall.plant.switches import SafetySwitch, SensingSwitch, SwitchParameters
from stagecall.plant.two_stage_cooling import StageCoil

_RATED_HEATING = 8.3333
"""°C (47 °F) at which heating is rated."""
STARVED_SPLIT = 40.0
"""K that the evaporating temperature falls with no refrigerant let through at all: low-pressure switches open well
before (trade knowledge, no published source found)."""
_LOOKS_AHEAD = 21_600.0
"""Seconds; a defrost that is not due in six hours is not awaited, and looked for again at the next change."""
_ENERGISED = 12.0
"""Volts from which the valve's coil reads as energised."""


class Course:
    """A value that moves to an end with a time constant (ms)."""

    __slots__ = ("_end", "_since", "_then", "_time")

    def __init__(self, value: float) -> None:
        self._then = self._end = value
        self._since, self._time = 0, 1.0

    def at(self, ms: float) -> float:
        """The value at that moment, as things now stand."""
        return self._end + (self._then - self._end) * math.exp(-(ms - self._since) / self._time)

    def heads_for(self, end: float, time: float, now: int) -> None:
        """Take another course."""
        self._then, self._since = self.at(now), now
        self._end, self._time = end, max(1.0, time)


class ReversingValveParameters(CoilParameters, frozen=True, kw_only=True):
    """``energised_for``: which way it stands with its coil energised, by its papers; ``made`` says if that is true.

    The pilot moves the slide within ``shift_time``, while the pressures are ``shift_difference`` apart. ``leak``: what
    of the pumped gas slips past the slide from the high side to the low side (a sound slide lets none by that counts;
    one that stands half-way most of it: trade knowledge, no published source found).
    """

    energised_for: Literal["cool", "heat"]
    shift_difference: Pressure
    shift_time: Time
    made: Literal["by_its_papers", "the_other_way"] = "by_its_papers"
    slide: Literal["free", "stuck_cool", "stuck_heat"] = "free"
    leak: Share = 0.0


class ReversingValve(CoilPart):
    """``set_for_cool`` is what its coil is energised for, ``cools`` where its slide stands."""

    takes: ClassVar[type[Parameters]] = ReversingValveParameters
    terminals: ClassVar[dict[str, Medium]] = {**CoilPart.terminals, "body": "refrigerant"}
    p: ReversingValveParameters

    def __init__(self, bench: Bench, name: str, parameters: ReversingValveParameters) -> None:
        super().__init__(bench, name, parameters)
        at_rest = parameters.energised_for == "heat"
        self.set_for_cool = Signal(at_rest)
        self._cools_energised = (parameters.energised_for == "cool") == (parameters.made == "by_its_papers")
        stands = not self._cools_energised if parameters.slide == "free" else parameters.slide == "stuck_cool"
        self.cools = Signal(stands)
        self._look_ahead = LookAhead(self.env, self._next_shift, self._shift)

    def connect(self) -> None:
        """Look anew whenever the coil or the pressures take another course."""
        super().connect()
        self._circuit = self.joined("body", HeatPumpCircuit)
        self.level("coil").listen(self._energised)
        for side in ("high", "low"):
            self._circuit.side(side).changed(self._look_ahead.anew)

    def _energised(self, volts: float) -> None:
        self.set_for_cool.set((volts >= _ENERGISED) == (self.p.energised_for == "cool"))

    def moved(self, on: bool) -> None:  # noqa: ARG002 - the armature itself is asked
        """The pilot asks for the other way."""
        self._look_ahead.anew()

    def _next_shift(self) -> int | None:
        wanted = self.armature.value == self._cools_energised
        if self.p.slide != "free" or wanted == self.cools.value:
            return None
        after = self._circuit.apart(self.p.shift_difference)
        return None if after is None else after + self.p.shift_time

    def _shift(self) -> None:
        """A compressor that has stopped meanwhile leaves the slide where it was."""
        if self._circuit.apart(self.p.shift_difference) == 0:
            self.cools.set(not self.cools.value)


class HeatPumpParameters(RefrigerantParameters, frozen=True, kw_only=True):
    """What heating adds; all of it at ``rated_airflow``.

    ``heating_rise`` is the rise of the supply air at 47 °F outdoors, and it falls by ``heating_slope`` of each kelvin
    below. A running compressor holds its sides at least ``least_lift`` apart. ``outdoor_split``: the coil below the
    outdoor air in heating, which frost widens by up to ``frost_full`` at and below ``frost_below`` outdoors.
    ``low_share``: what of the capacity the low stage of a two-step compressor gives. ``heating_passage`` and
    ``cooling_passage``: what of the refrigerant the metering of each direction lets through, check valve included (all
    of it in a sound machine).
    """

    heating_rise: Difference
    heating_slope: Share
    least_lift: Pressure
    heating_condensing_split: Difference
    outdoor_split: Difference
    outdoor_coil_time: Time
    defrost_warming_time: Time
    frost_below: Temperature
    frost_full: Difference
    frost_time: Time
    melting_time: Time
    low_share: Share = 1.0
    heating_passage: Share = 1.0
    cooling_passage: Share = 1.0


class HeatPumpCircuit(RefrigerantCircuit):
    """A circuit that runs both ways; ``valve`` is joined to the reversing valve, ``coil`` is where sensors sit."""

    takes: ClassVar[type[Parameters]] = HeatPumpParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **RefrigerantCircuit.terminals, "valve": "refrigerant", "coil": "refrigerant",
    }  # fmt: skip
    p: HeatPumpParameters

    def __init__(self, bench: Bench, name: str, parameters: HeatPumpParameters) -> None:
        super().__init__(bench, name, parameters)
        self._metal, self._frost = Course(bench.air.outdoor), Course(0.0)
        self._coil_listeners: list[Callable[[], None]] = []

    def connect(self) -> None:
        """Follow the valve, and the step of a two-step compressor."""
        self._valve = self.joined("valve", ReversingValve)
        self._stages = self.all_joined("compressor", StageCoil)
        super().connect()
        self._valve.cools.listen(self._changed)
        for stage, _ in self._stages:
            stage.armature.listen(self._changed)

    def coil_changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* whenever the outdoor coil takes another course."""
        self._coil_listeners.append(listener)

    def temperature(self) -> float:
        """The outdoor coil, °C."""
        return self._coil_at(self.now)

    def reading(self, name: str) -> float:  # noqa: ARG002 - a probe on the coil
        """The outdoor coil, °C."""
        return self.temperature()

    def frost(self, after: float = 0.0) -> float:
        """By how much frost has widened the coil's split, kelvin, that many ms from now."""
        return self._frost.at(self.now + after)

    def coil_reaches(self, threshold: float) -> int | None:
        """Ms until the coil passes *threshold*, °C."""
        now = self.now
        return first_change_of_sign(lambda s: self._coil_at(now + 1000 * s) - threshold, _LOOKS_AHEAD)

    def frost_reaches(self, kelvin: float) -> int | None:
        """Ms until the frost passes *kelvin*."""
        return first_change_of_sign(lambda s: self.frost(1000 * s) - kelvin, _LOOKS_AHEAD)

    def apart(self, difference: float) -> int | None:
        """Ms until the pressures are that far apart, Pa; 0 where they are."""
        high, low = self.side("high"), self.side("low")
        if high.now() - low.now() >= difference:
            return 0
        return first_change_of_sign(lambda s: high.after(1000 * s) - low.after(1000 * s) - difference, 3600.0)

    def _coil_at(self, ms: float) -> float:
        return self._metal.at(ms) - self._frost.at(ms)

    def pumped(self) -> float:
        """By the stage, less what slips past the valve or is not let through."""
        low = self._stages and not any(stage.armature.value for stage, _ in self._stages)
        return (self.p.low_share if low else 1.0) * self._passage() * (1 - self._valve.p.leak)

    def _passage(self) -> float:
        return self.p.cooling_passage if self._valve.cools.value else self.p.heating_passage

    def starved(self) -> float:
        """By what the metering of this direction holds back."""
        return (1 - self._passage()) * STARVED_SPLIT

    def _changed(self, cause: object = None) -> None:
        turning = self._compressor.turning.value
        if turning and not self._valve.cools.value:
            self._heat()
        else:
            super()._changed(cause)
            if turning:
                self._hold_apart(self.side("high").end, self.bench.air.room - self.p.evaporating_split)
                self._load_compressor()
        self._outdoor_coil(turning)
        for listener in self._coil_listeners:
            listener()

    def _heat(self) -> None:
        p, air = self.p, self.bench.air
        evaporating = air.outdoor - p.outdoor_split - self.starved()
        self.side("low").heads_for(saturation(evaporating) * p.charge, p.low_side_time)
        self._hold_apart(saturation(air.room + p.heating_condensing_split) * p.charge, air.outdoor - p.outdoor_split)
        self._load_compressor()
        rise = p.heating_rise + p.heating_slope * (air.outdoor - _RATED_HEATING)
        air.set_heat(self._coil, max(0.0, air.stream(p.rated_airflow) * rise * self.pumped() * p.charge))

    def _hold_apart(self, high: float, evaporating: float) -> None:
        low = saturation(evaporating) * self.p.charge
        apart = max(high - low, self.p.least_lift)
        slips = self._valve.p.leak * apart
        self.side("high").heads_for(max(high, low + self.p.least_lift) - slips, self.p.high_side_time)

    def _outdoor_coil(self, turning: bool) -> None:
        p, outdoor, now = self.p, self.bench.air.outdoor, self.now
        past_the_valve = 1 - self._valve.p.leak
        if not turning:
            self._metal.heads_for(outdoor, p.outdoor_coil_time, now)
            self._frost.heads_for(self.frost() if outdoor <= 0 else 0.0, p.frost_time, now)
        elif not self._valve.cools.value:
            self._metal.heads_for(outdoor - p.outdoor_split * past_the_valve, p.outdoor_coil_time, now)
            self._frost.heads_for(p.frost_full if outdoor <= p.frost_below else 0.0, p.frost_time, now)
        else:
            still = not self._fan.turning.value
            split = p.condensing_split_still if still else p.condensing_split
            self._metal.heads_for(
                outdoor + split * past_the_valve, p.defrost_warming_time if still else p.outdoor_coil_time, now
            )
            self._frost.heads_for(0.0, p.melting_time, now)


class SensorClip(SafetySwitch):
    """Holds a defrost sensor on the outdoor coil; opened, the sensor hangs in the outdoor air. No electric part."""

    terminals: ClassVar[dict[str, Medium]] = {"sensor": "refrigerant"}

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:  # noqa: ARG003 - not in the network
        """None."""
        return ()

    def _stand(self, closed: bool) -> None:
        self.closed.set(closed)


class CoilThermostatParameters(SwitchParameters, frozen=True, kw_only=True):
    """It closes on a fall of the outdoor coil to ``closes`` (initiate) and opens on a rise to ``opens`` (terminate)."""

    closes: Temperature
    opens: Temperature


class CoilThermostat(SensingSwitch):
    """The defrost sensor of a time-and-temperature control: a thermostat clipped to the outdoor coil."""

    takes: ClassVar[type[Parameters]] = CoilThermostatParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "coil": "refrigerant"}
    p: Any

    def connect(self) -> None:
        """Look ahead anew whenever the coil takes another course."""
        super().connect()
        self._circuit = self.joined("coil", HeatPumpCircuit)
        self._circuit.coil_changed(self.look_ahead.anew)
        self._clip = next((clip.closed for clip, _ in self.all_joined("coil", SensorClip)), None)
        if self._clip is not None:
            self._clip.listen(self.look_ahead.anew)

    def rest(self) -> None:
        """As a coil in that weather has it."""
        self._wants = self.cold()
        super().rest()

    def cold(self) -> bool:
        """Whether it would close by itself."""
        return bool(self._feels() <= self.p.closes)

    def next_change(self) -> int | None:
        """Ms until it next moves; at once where it was put into air, or back on the coil, beyond its threshold."""
        if self._feels() > self.p.opens if self._wants else self.cold():
            return 1
        if not self._on_the_coil():
            return None
        return self._circuit.coil_reaches(self.p.opens if self._wants else self.p.closes)

    def _feels(self) -> float:
        return self._circuit.temperature() if self._on_the_coil() else self.bench.air.outdoor

    def _on_the_coil(self) -> bool:
        return self._clip is None or self._clip.value


class FrostSensorParameters(SwitchParameters, frozen=True, kw_only=True):
    """``difference``: by how much frost has widened the coil's split when a defrost is due."""

    difference: Difference


class FrostSensor(CoilThermostat):
    """What a demand defrost control compares: coil and outdoor air against the same of the clean coil.

    Told as a contact that is closed while the coil is frosted.
    """

    takes: ClassVar[type[Parameters]] = FrostSensorParameters

    def cold(self) -> bool:
        """Frosted."""
        return bool(self._circuit.frost() >= self.p.difference)

    def next_change(self) -> int | None:
        """Ms until it is frosted, or no longer."""
        return self._circuit.frost_reaches(self.p.difference)
