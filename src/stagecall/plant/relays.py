"""Relays that a board or a control drives by itself: their coils are no part of the 24 V network."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Contact, Element
from stagecall.plant.line import Feeder
from stagecall.plant.parameters import Ohms, Parameters, Time
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Signal


class RelayParameters(Parameters, frozen=True, kw_only=True):
    """How fast it moves, and whether its contacts do; ``unsure`` ones close at half of the times, by the run's seed."""

    operate_time: Time
    release_time: Time
    contacts: Literal["free", "welded", "stuck_open", "unsure"] = "free"


class Driven(Part):
    """Follows the board's output that is joined to ``drive``."""

    takes: ClassVar[type[Parameters]] = RelayParameters
    p: RelayParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contacts == "welded")
        self._drive = Signal(value=False)

    def connect(self) -> None:
        """Find the output that drives it."""
        super().connect()
        board, output = self.all_joined("drive", Driver)[0]
        self._drive = board.outputs[output]
        self._drive.listen(self._driven)

    def _driven(self, on: bool) -> None:
        if self.p.contacts == "free" or (self.p.contacts == "unsure" and (not on or self.works_this_time())):
            after = self.p.operate_time if on else self.p.release_time
            self.env.timeout(max(1, after)).callbacks.append(self._move)

    def _move(self, _: Any) -> None:
        self.closed.set(self._drive.value)


class Driver(Part):
    """A board: its ``outputs`` by terminal drive relays, motors' speed taps and the like."""

    def __init__(self, bench: Bench, name: str, parameters: object) -> None:
        super().__init__(bench, name, parameters)
        self.outputs = {
            terminal: Signal(value=False) for terminal, medium in self.terminals.items() if medium in ("drive", "speed")
        }


class LineRelay(Driven, Feeder):
    """A board's relay for a line-voltage load."""

    terminals: ClassVar[dict[str, Medium]] = {"drive": "drive", "line": "line", "load": "line"}


class ControlRelayParameters(RelayParameters, frozen=True, kw_only=True):
    """A relay for a 24 V load."""

    contact_ohms: Ohms = 0.02


class ControlRelay(Driven):
    """A board's relay for a 24 V load: ``in`` to ``out``."""

    takes: ClassVar[type[Parameters]] = ControlRelayParameters
    terminals: ClassVar[dict[str, Medium]] = {"drive": "drive", "in": "control", "out": "control"}

    @classmethod
    def elements(cls, name: str, p: ControlRelayParameters) -> Iterable[Element]:
        """One contact."""
        yield Contact(name, f"{name}.in", f"{name}.out", p.contact_ohms)

    def connect(self) -> None:
        """Its contact is one of the network's."""
        super().connect()
        self.closed.listen(self._turn)

    def rest(self) -> None:
        """As the contact stands."""
        super().rest()
        self._turn(self.closed.value)

    def _turn(self, closed: bool) -> None:
        self.bench.electric.turn(self.name, closed)
