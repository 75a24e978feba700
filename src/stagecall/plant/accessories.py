"""Small things hung on a system: what goes live with a furnace, a dehumidify input, an outdoor thermostat, a door."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Contact, Element, Wire
from stagecall.plant.electric import Probe
from stagecall.plant.line import Feeder
from stagecall.plant.parameters import Difference, Ohms, Parameters, Temperature, Time, Volts
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.relays import Driver
from stagecall.plant.signals import Follower, Signal
from stagecall.plant.switches import ActedSwitch, DraftSwitch, SafetySwitch, SwitchParameters


class AccessoryOutputParameters(Parameters, frozen=True, kw_only=True):
    """``live_with``: what in the furnace makes it live; makers differ, one even within itself.

    An output of the board, or the pressure switch when it closes. ``contacts``: of its relay.
    """

    live_with: Literal["inducer", "pressure_switch", "gas_valve", "blower"]
    operate_time: Time
    release_time: Time
    contact_ohms: Ohms = 0.02
    contacts: Literal["free", "welded", "stuck_open"] = "free"


class AccessoryOutput(Part):
    """A furnace board's 24 V output for a humidifier or an air cleaner: ``in`` to ``out``."""

    takes: ClassVar[type[Parameters]] = AccessoryOutputParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "inducer": "drive", "gas_valve": "drive", "blower": "drive", "pressure_switch": "draft",
        "in": "control", "out": "control",
    }  # fmt: skip
    p: AccessoryOutputParameters

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """One contact."""
        yield Contact(name, f"{name}.in", f"{name}.out", p.contact_ohms)

    def connect(self) -> None:
        """Follow what counts."""
        if self.p.live_with == "pressure_switch":
            self._leader = self.joined("pressure_switch", DraftSwitch).closed
        else:
            board, output = self.all_joined(self.p.live_with, Driver)[0]
            self._leader = board.outputs[output]
        if self.p.contacts == "free":
            self._leader.listen(self._driven)

    def rest(self) -> None:
        """As its contacts stand."""
        self.bench.electric.turn(self.name, self.p.contacts == "welded")

    def _driven(self, on: bool) -> None:
        after = self.p.operate_time if on else self.p.release_time
        self.env.timeout(max(1, after)).callbacks.append(self._move)

    def _move(self, _: object) -> None:
        self.bench.electric.turn(self.name, self._leader.value)


class DehumidifyInputParameters(Parameters, frozen=True, kw_only=True):
    """``polarity``: whether 24 V on the input asks for less air, or its absence does."""

    polarity: Literal["energise", "drop"]
    input_ohms: Ohms
    input_on: Volts
    input_off: Volts
    input_delay: Time


class DehumidifyInput(Driver):
    """An input DEHUM that chooses the blower's lower speed; a dry contact from ``in`` to ``out`` tells of it."""

    takes: ClassVar[type[Parameters]] = DehumidifyInputParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "DEHUM": "control", "C": "control", "in": "control", "out": "control", "speed": "speed",
    }  # fmt: skip
    p: DehumidifyInputParameters

    def __init__(self, bench: Bench, name: str, parameters: DehumidifyInputParameters) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        delay = p.input_delay
        self._live = Follower(self.env, self.level("DEHUM"), p.input_on, p.input_off, delay, delay)
        self.closed = Signal(value=False)

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """The input's draw, and the contact."""
        yield Wire(f"{name}.input", f"{name}.DEHUM", f"{name}.C", p.input_ohms)
        yield Contact(name, f"{name}.in", f"{name}.out")

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Its input."""
        return {"DEHUM": Probe(f"{name}.DEHUM", f"{name}.C")}

    def connect(self) -> None:
        """Follow the input."""
        super().connect()
        self._live.listen(self._changed)

    def adopt(self) -> None:
        """As the voltage says."""
        self._live.adopt()

    def rest(self) -> None:
        """As the input stands."""
        self._changed(self._live.value)

    def _changed(self, live: bool) -> None:
        asked = live == (self.p.polarity == "energise")
        self.outputs["speed"].set(asked)
        self.closed.set(asked)
        self.bench.electric.turn(self.name, asked)


class OutdoorThermostatParameters(SwitchParameters, frozen=True, kw_only=True):
    """It closes below ``set_point`` or above it, and opens again ``differential`` beyond."""

    set_point: Temperature
    differential: Difference
    closes: Literal["below", "above"]


class OutdoorThermostat(SafetySwitch):
    """A contact moved by the outdoor air."""

    takes: ClassVar[type[Parameters]] = OutdoorThermostatParameters
    p: OutdoorThermostatParameters

    def connect(self) -> None:
        """Feel the outdoor air."""
        self.bench.air.surroundings_changed(self._feel)

    def rest(self) -> None:
        """As the weather is."""
        self._wants = self._side(0.0)
        super().rest()

    def _feel(self) -> None:
        self.wants(self._side(self.p.differential if self._wants else 0.0))

    def _side(self, beyond: float) -> bool:
        outdoor = self.bench.air.outdoor
        if self.p.closes == "below":
            return outdoor < self.p.set_point + beyond
        return outdoor > self.p.set_point - beyond


class AlarmSwitch(ActedSwitch):
    """A float in a condensate pump: what opens ``in`` to ``out`` closes ``alarm_in`` to ``alarm``."""

    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "alarm_in": "control", "alarm": "control"}

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """Both contacts."""
        yield from super().elements(name, p)
        yield Contact(f"{name}.alarmed", f"{name}.alarm_in", f"{name}.alarm", p.contact_ohms)

    def connect(self) -> None:
        """The alarm's contact is the other one's opposite."""
        self.closed.listen(self._moved)

    def _moved(self, closed: bool) -> None:
        self.bench.electric.turn(f"{self.name}.alarmed", not closed)


class DoorSwitch(ActedSwitch, Feeder):
    """A blower door's switch: it takes the line voltage of what hangs on ``load``, and with it the control's 24 V.

    The transformer's primary hangs on the same line; the model opens its secondary instead, which is as dead.
    """

    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "line": "line", "load": "line"}

    def connect(self) -> None:
        """Feed when closed."""
        Feeder.connect(self)

    def rest(self) -> None:
        """As it stands."""
        super().rest()
        Feeder.rest(self)
