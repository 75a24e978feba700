"""Electromagnets of the 24 V network and what they move: contactors, relays with a coil, gas valves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Coil, Contact, Element, Wire, load_ohms
from stagecall.plant.electric import Probe
from stagecall.plant.line import Feeder
from stagecall.plant.parameters import Ohms, Parameters, Share, Time, VoltAmperes, Volts
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Follower, Signal


class CoilParameters(Parameters, frozen=True, kw_only=True):
    """A 24 V coil: its draw before and after the armature has sealed, and at what volts and how fast it moves.

    One whose turns have burnt together is a resistor of ``shorted_ohms`` (trade knowledge, no published source found).
    """

    sealed_va: VoltAmperes
    sealed_power_factor: Share
    inrush_va: VoltAmperes
    inrush_power_factor: Share
    pick_up: Volts
    drop_out: Volts
    operate_time: Time
    release_time: Time
    coil: Literal["sound", "open", "shorted"] = "sound"
    shorted_ohms: Ohms = 0.5


class CoilPart(Part):
    """A coil between ``coil_1`` and ``coil_2``; ``armature`` says whether it has pulled in."""

    takes: ClassVar[type[Parameters]] = CoilParameters
    terminals: ClassVar[dict[str, Medium]] = {"coil_1": "control", "coil_2": "control"}
    p: CoilParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        volts = self.level("coil") if self.p.coil == "sound" else Signal(0.0)
        self.armature = Follower(
            self.env, volts, self.p.pick_up, self.p.drop_out, self.p.operate_time, self.p.release_time
        )

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """The coil; a burnt-out one is an open contact."""
        a, b = f"{name}.coil_1", f"{name}.coil_2"
        if p.coil == "open":
            yield Contact(name, a, b)
        elif p.coil == "shorted":
            yield Wire(name, a, b, p.shorted_ohms)
        else:
            sealed = load_ohms(p.sealed_va, p.sealed_power_factor)
            yield Coil(name, a, b, sealed, load_ohms(p.inrush_va, p.inrush_power_factor))

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Volts across the coil."""
        return {"coil": Probe(f"{name}.coil_1", f"{name}.coil_2")}

    def connect(self) -> None:
        """An armature that has moved changes the coil's draw, and what it carries."""
        super().connect()
        self.armature.listen(self._moved)

    def adopt(self) -> None:
        """Pulled in if the voltage says so."""
        self.armature.adopt()

    def _moved(self, on: bool) -> None:
        self.bench.electric.turn(self.name, on)
        self.moved(on)

    def moved(self, on: bool) -> None:
        """What the armature does."""


class ContactorParameters(CoilParameters, frozen=True, kw_only=True):
    """A coil with line-voltage contacts."""

    contacts: Literal["free", "welded", "stuck_open"] = "free"


class Contactor(CoilPart, Feeder):
    """A contactor, or a relay with its own 24 V coil: ``line`` to ``load`` when pulled in."""

    takes: ClassVar[type[Parameters]] = ContactorParameters
    terminals: ClassVar[dict[str, Medium]] = {**CoilPart.terminals, "line": "line", "load": "line"}
    p: ContactorParameters

    def __init__(self, bench: Bench, name: str, parameters: ContactorParameters) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contacts == "welded")

    def moved(self, on: bool) -> None:
        """The contacts follow, if they can."""
        if self.p.contacts == "free":
            self.closed.set(on)


class GasValveParameters(CoilParameters, frozen=True, kw_only=True):
    """A coil that opens the gas; ``gas`` says whether any is there."""

    seat: Literal["sound", "stuck_open", "stuck_shut"] = "sound"
    gas: Literal["on", "off"] = "on"


class GasValve(CoilPart):
    """A one-stage gas valve: gas flows while the armature is pulled in."""

    takes: ClassVar[type[Parameters]] = GasValveParameters
    terminals: ClassVar[dict[str, Medium]] = {**CoilPart.terminals, "gas": "gas"}
    p: GasValveParameters

    def __init__(self, bench: Bench, name: str, parameters: GasValveParameters) -> None:
        super().__init__(bench, name, parameters)
        self.flows = Signal(self._opening(pulled_in=False))

    def moved(self, on: bool) -> None:
        """The seat follows, if it can."""
        self.flows.set(self._opening(pulled_in=on))

    def _opening(self, *, pulled_in: bool) -> bool:
        if self.p.gas == "off":
            return False
        return pulled_in if self.p.seat == "sound" else self.p.seat == "stuck_open"
