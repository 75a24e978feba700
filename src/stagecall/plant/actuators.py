"""What a motor or a heated wax moves against a spring: zone valves, dampers, and the end switches on them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import partial
from typing import ClassVar, Literal

from stagecall.circuit import Coil, Contact, Element, load_ohms
from stagecall.plant.electric import Probe
from stagecall.plant.parameters import Parameters, Share, Time, VoltAmperes, Volts
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Agenda, Follower, Signal
from stagecall.plant.switches import SafetySwitch, SwitchParameters


class ActuatorParameters(Parameters, frozen=True, kw_only=True):
    """Draw while it moves and while it holds, the volts it needs, and the times of its whole way with and without.

    A heated wax is cut off once it is through and made again to hold: ``rests`` and ``holds`` are the lengths of that
    cycle; a motor rests for 0 s. ``body``: whether it moves at all, and where it is stuck if not.
    """

    moving_va: VoltAmperes
    holding_va: VoltAmperes
    power_factor: Share
    moves_from: Volts
    lets_go_below: Volts
    powered_time: Time
    spring_time: Time
    rests: Time = 0
    holds: Time = 0
    body: Literal["free", "stuck", "stuck_through"] = "free"
    coil: Literal["sound", "open"] = "sound"


class Actuator(Part):
    """Between ``coil_1`` and ``coil_2``; ``passes``: it is past half its way from the spring's end."""

    takes: ClassVar[type[Parameters]] = ActuatorParameters
    terminals: ClassVar[dict[str, Medium]] = {"coil_1": "control", "coil_2": "control", "stem": "shaft"}
    p: ActuatorParameters

    def __init__(self, bench: Bench, name: str, parameters: ActuatorParameters) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self.powered = Follower(self.env, self.level("coil"), p.moves_from, p.lets_go_below, 20, 20)
        self._then, self._since = 0.0, 0
        self._agenda = Agenda(self.env)
        self._ends: list[tuple[float, Signal[bool]]] = []
        self.passes = self.beyond(0.5)

    @classmethod
    def elements(cls, name: str, p: ActuatorParameters) -> Iterable[Element]:
        """A load that is lighter once it is through, behind the contact that cuts a wax's heater."""
        a, b, inside = f"{name}.coil_1", f"{name}.coil_2", f"{name}.inside"
        yield Contact(f"{name}.heater", a, inside)
        if p.coil == "open":
            yield Contact(name, inside, b)
        else:
            yield Coil(name, inside, b, load_ohms(p.holding_va, p.power_factor), load_ohms(p.moving_va, p.power_factor))

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Volts at its two wires."""
        return {"coil": Probe(f"{name}.coil_1", f"{name}.coil_2")}

    def connect(self) -> None:
        """Move when powered."""
        if self.p.coil == "sound" and self.p.body == "free":
            self.powered.listen(self._turned)

    def rest(self) -> None:
        """Where the spring holds it."""
        self.bench.electric.turn(f"{self.name}.heater", on=True)

    def adopt(self) -> None:
        """Powered if the voltage says so."""
        self.powered.adopt()

    def beyond(self, share: float) -> Signal[bool]:
        """Whether it is past that share of its way."""
        signal = next((signal for end, signal in self._ends if end == share), None)
        if signal is None:
            signal = Signal(value=self.p.body == "stuck_through")
            self._ends.append((share, signal))
        return signal

    def _turned(self, powered: bool) -> None:
        elapsed = self.now - self._since
        before = self.p.spring_time if powered else self.p.powered_time
        way = elapsed / max(1, before)
        self._then = max(0.0, self._then - way) if powered else min(1.0, self._then + way)
        self._since = self.now
        self._agenda.forget()
        self._heat(on=True)
        for share, signal in self._ends:
            self._agenda.after(self._time_to(share), partial(signal.set, powered))
        if powered:
            self._agenda.after(self._time_to(1.0), self._through)
        else:
            self.bench.electric.turn(self.name, on=False)

    def _time_to(self, share: float) -> int:
        if self.powered.value:
            return round(max(0.0, share - self._then) * self.p.powered_time)
        return round(max(0.0, self._then - share) * self.p.spring_time)

    def _through(self) -> None:
        """Through its way: it draws less, and a wax's heater begins to cycle."""
        self.bench.electric.turn(self.name, on=True)
        if self.p.rests:
            self._cut()

    def _cut(self) -> None:
        self._heat(on=False)
        self._agenda.after(self.p.rests, self._make)

    def _make(self) -> None:
        self._heat(on=True)
        self._agenda.after(self.p.holds, self._cut)

    def _heat(self, *, on: bool) -> None:
        self.bench.electric.turn(f"{self.name}.heater", on)


class ZoneValve(Actuator):
    """A zone valve, shut by its spring; water passes from half its way."""


class Damper(Actuator):
    """A zone damper that power shuts and a spring opens."""


class EndSwitchParameters(SwitchParameters, frozen=True, kw_only=True):
    """It closes at that share of the way."""

    closes_at: Share


class EndSwitch(SafetySwitch):
    """A dry contact on a valve or damper; open at rest."""

    takes: ClassVar[type[Parameters]] = EndSwitchParameters
    terminals: ClassVar[dict[str, Medium]] = {**SafetySwitch.terminals, "stem": "shaft"}
    p: EndSwitchParameters

    def __init__(self, bench: Bench, name: str, parameters: EndSwitchParameters) -> None:
        super().__init__(bench, name, parameters)
        self._wants = False

    def connect(self) -> None:
        """Ride on the stem."""
        through = self.joined("stem", Actuator).beyond(self.p.closes_at)
        self._wants = through.value
        through.listen(self.wants)
