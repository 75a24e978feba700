"""Relays with a 24 V coil whose contacts stand in another 24 V circuit: the way one transformer calls another."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Contact, Element
from stagecall.plant.coils import CoilParameters, CoilPart
from stagecall.plant.parameters import Ohms, Parameters
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Signal


class IsolatingRelayParameters(CoilParameters, frozen=True, kw_only=True):
    """A coil with one change-over contact for 24 V."""

    contact_ohms: Ohms = 0.02
    contacts: Literal["free", "welded", "stuck_open"] = "free"


class IsolatingRelay(CoilPart):
    """``in`` to ``made`` when pulled in, ``in`` to ``broken`` when not; ``closed`` tells of ``made``."""

    takes: ClassVar[type[Parameters]] = IsolatingRelayParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **CoilPart.terminals, "in": "control", "made": "control", "broken": "control",
    }  # fmt: skip
    p: IsolatingRelayParameters

    def __init__(self, bench: Bench, name: str, parameters: IsolatingRelayParameters) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contacts == "welded")

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """Coil and contacts."""
        yield from super().elements(name, p)
        yield Contact(f"{name}.makes", f"{name}.in", f"{name}.made", p.contact_ohms)
        yield Contact(f"{name}.breaks", f"{name}.in", f"{name}.broken", p.contact_ohms)

    def rest(self) -> None:
        """As the contacts stand."""
        self._turn(made=self.closed.value)

    def moved(self, on: bool) -> None:
        """The contacts follow, if they can."""
        if self.p.contacts == "free":
            self._turn(made=on)

    def _turn(self, *, made: bool) -> None:
        self.closed.set(made)
        self.bench.electric.turn(f"{self.name}.makes", made)
        self.bench.electric.turn(f"{self.name}.breaks", not made)
