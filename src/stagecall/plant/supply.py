"""Where 24 V comes from: the transformer, and the fuse behind it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import EARTH, Contact, Element, Wire, opens_after, transformer
from stagecall.plant.electric import Probe
from stagecall.plant.parameters import Amps, Ohms, Parameters, Share, VoltAmperes
from stagecall.plant.part import Medium, Part

STRAY_OHMS = 1e6
"""From a secondary's common to earth: what windings and cables leak and couple. Far more than any load draws through,
far less than the leakage of a loose node, so that a node joined to nothing reads 0 V against a common."""


class TransformerParameters(Parameters, frozen=True, kw_only=True):
    """``regulation``: rise of the unloaded volts over 24 V. ``supply``: share of nominal line volts at the primary."""

    va: VoltAmperes
    regulation: Share
    phase: Literal["in", "reversed"] = "in"
    supply: Share = 1.0


class Transformer(Part):
    """A 24 V control transformer; its primary hangs on the system's disconnect."""

    takes: ClassVar[type[Parameters]] = TransformerParameters
    terminals: ClassVar[dict[str, Medium]] = {"hot": "control", "common": "control"}
    p: TransformerParameters

    @classmethod
    def elements(cls, name: str, p: TransformerParameters) -> Iterable[Element]:
        """One source, and what holds its common near earth."""
        phase = 180.0 if p.phase == "reversed" else 0.0
        yield transformer(name, f"{name}.hot", f"{name}.common", p.va, regulation=p.regulation, phase_degrees=phase)
        yield Wire(f"{name}.stray", f"{name}.common", EARTH, STRAY_OHMS)

    def rest(self) -> None:
        """Live."""
        self.power(on=True)

    def power(self, *, on: bool) -> None:
        """Connect or disconnect the primary."""
        self.bench.electric.scale(self.name, self.p.supply if on else 0.0)


class FuseParameters(Parameters, frozen=True, kw_only=True):
    """A blade fuse; ``grade`` is where in its class's band it lies."""

    rating: Amps
    cold_ohms: Ohms
    grade: Literal["low", "typical", "high"] = "typical"
    state: Literal["sound", "blown"] = "sound"


class Fuse(Part):
    """A fuse melts when the shares of its opening time, at each current it has carried, add up to one."""

    takes: ClassVar[type[Parameters]] = FuseParameters
    terminals: ClassVar[dict[str, Medium]] = {"in": "control", "out": "control"}
    p: FuseParameters

    def __init__(self, bench: Any, name: str, parameters: FuseParameters) -> None:
        super().__init__(bench, name, parameters)
        self._melted = 0.0
        self._since = 0
        self._opens_after: int | None = None

    @classmethod
    def elements(cls, name: str, p: FuseParameters) -> Iterable[Element]:
        """One contact."""
        yield Contact(name, f"{name}.in", f"{name}.out", p.cold_ohms)

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Its current."""
        return {"amps": Probe(name)}

    def connect(self) -> None:
        """Watch the current."""
        self.level("amps").listen(self._carries)

    def rest(self) -> None:
        """Whole, unless it is blown from the start."""
        self.bench.electric.turn(self.name, self.p.state == "sound")

    def _carries(self, amps: float) -> None:
        if self._opens_after is not None:
            self._melted += (self.now - self._since) / self._opens_after
        self._since = self.now
        self._opens_after = opens_after(amps, self.p.rating, self.p.grade)
        if self._opens_after is None:
            self._melted = 0.0  # cooled again: between overloads a fuse keeps little heat
        else:
            left = max(1, round((1 - self._melted) * self._opens_after))
            timer = self.env.timeout(left, self._since)
            timer.callbacks.append(self._melt)

    def _melt(self, timer: Any) -> None:
        if self._opens_after is not None and timer.value == self._since:
            self.bench.electric.turn(self.name, on=False)

    def clear(self, what: str) -> bool:
        """A new fuse."""
        if what != "fuse":
            return False
        self._melted = 0.0
        self.bench.electric.turn(self.name, on=True)
        return True
