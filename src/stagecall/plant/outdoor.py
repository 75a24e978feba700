"""What outdoor units carry besides: the compressor's heater, a fan control for cold weather, a phase monitor."""

from __future__ import annotations

from typing import ClassVar, Literal

from stagecall.plant.line import SensingFeeder
from stagecall.plant.motors import InductionMotor
from stagecall.plant.parameters import Amps, Parameters, Pressure
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.refrigerant import RefrigerantCircuit
from stagecall.plant.signals import Signal
from stagecall.plant.switches import SafetySwitch, SwitchParameters


class CompressorHeaterParameters(Parameters, frozen=True, kw_only=True):
    """It heats while the compressor stands, or always; some maker's wiring does the one, some the other."""

    running_amps: Amps
    heats: Literal["at_rest", "always"] = "at_rest"
    element: Literal["sound", "open"] = "sound"


class CompressorHeater(Part):
    """Keeps the oil warm; ``shaft`` is joined to the compressor whose rest it follows. On the mains itself."""

    takes: ClassVar[type[Parameters]] = CompressorHeaterParameters
    terminals: ClassVar[dict[str, Medium]] = {"shaft": "shaft"}
    p: CompressorHeaterParameters

    def __init__(self, bench: Bench, name: str, parameters: CompressorHeaterParameters) -> None:
        super().__init__(bench, name, parameters)
        self.amps = Signal(0.0)

    def connect(self) -> None:
        """Follow the compressor's feed."""
        self._compressor = self.joined("shaft", InductionMotor)
        self._compressor.fed.listen(self._changed)

    def rest(self) -> None:
        """Warm."""
        self._changed()

    def _changed(self, _: object = None) -> None:
        heats = self.p.element == "sound" and (self.p.heats == "always" or not self._compressor.fed.value)
        self.amps.set(self.p.running_amps if heats else 0.0)


class FanCyclingParameters(Parameters, frozen=True, kw_only=True):
    """It stops the fan below ``opens`` of high-side pressure, and lets it run again from ``closes``."""

    opens: Pressure
    closes: Pressure
    contact: Literal["free", "stuck_closed", "stuck_open"] = "free"


class FanCyclingControl(SensingFeeder):
    """The low-ambient control: a contact in the outdoor fan's line that the high-side pressure moves."""

    takes: ClassVar[type[Parameters]] = FanCyclingParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "load": "line", "pressure": "refrigerant"}
    p: FanCyclingParameters

    def __init__(self, bench: Bench, name: str, parameters: FanCyclingParameters) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contact != "stuck_open")

    def connect(self) -> None:
        """Look ahead anew whenever the pressure takes another course."""
        super().connect()
        circuit, side = self.all_joined("pressure", RefrigerantCircuit)[0]
        self._side = circuit.side(side)
        if self.p.contact == "free":
            self._side.changed(self.look_ahead.anew)

    def rest(self) -> None:
        """As the pressure at rest has it."""
        if self.p.contact == "free":
            self.closed.set(self._side.now() >= self.p.closes)
        super().rest()

    def next_change(self) -> int | None:
        """When the pressure passes its level."""
        return self._side.reaches(self.p.opens if self.closed.value else self.p.closes)


class PhaseMonitorParameters(SwitchParameters, frozen=True, kw_only=True):
    """The three phases as they come: in their order or not, all of them or one missing."""

    rotation: Literal["right", "reversed"] = "right"
    phases: Literal["all", "one_missing"] = "all"


class PhaseMonitor(SafetySwitch):
    """Holds its contact open while the phases are not as they should be: a compressor would turn backwards."""

    takes: ClassVar[type[Parameters]] = PhaseMonitorParameters
    p: PhaseMonitorParameters

    def rest(self) -> None:
        """As the mains are."""
        self._wants = self.p.rotation == "right" and self.p.phases == "all"
        super().rest()
