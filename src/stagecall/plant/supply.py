"""Where 24 V comes from: the transformer, and the fuse behind it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import EARTH, NOMINAL_VOLTS, Contact, Element, Wire, opens_after, transformer
from stagecall.plant.electric import Probe
from stagecall.plant.parameters import Amps, Ohms, Parameters, Share, Time, VoltAmperes
from stagecall.plant.part import Bench, Medium, Part

STRAY_OHMS = 1e6
"""From a secondary's common to earth: what windings and cables leak and couple. Far more than any load draws through,
far less than the leakage of a loose node, so that a node joined to nothing reads 0 V against a common."""


EARTHING_OHMS = 0.1
"""A secondary's common that is bonded to the cabinet, and so to the common of any other that is."""
NOMINAL_LINE_VOLTS = 120.0
_CUT_OUT_AT = 2.0


class TransformerParameters(Parameters, frozen=True, kw_only=True):
    """``regulation``: rise of the unloaded volts over 24 V. ``supply``: share of nominal line volts at the primary.

    ``common``: whether the secondary's common is bonded to earth. ``cut_out``: a thermal protector of its own, which
    opens after ``cut_out_time`` at twice the rated current, sooner by the square of more, never at or below the share
    ``cut_out_holds``; a self-resetting one closes again after ``cut_out_reset_time``, another has opened for good. All
    of the cut-out's figures are trade knowledge, no published source found.
    """

    va: VoltAmperes
    regulation: Share
    phase: Literal["in", "reversed"] = "in"
    supply: Share = 1.0
    common: Literal["floating", "earthed"] = "floating"
    cut_out: Literal["none", "self_resetting", "one_time"] = "none"
    cut_out_time: Time = 60_000
    cut_out_reset_time: Time = 300_000
    cut_out_holds: Share = 1.15


class Transformer(Part):
    """A 24 V control transformer; its primary hangs on the system's disconnect."""

    takes: ClassVar[type[Parameters]] = TransformerParameters
    terminals: ClassVar[dict[str, Medium]] = {"hot": "control", "common": "control"}
    p: TransformerParameters

    def __init__(self, bench: Bench, name: str, parameters: TransformerParameters) -> None:
        super().__init__(bench, name, parameters)
        self._connected = True
        self._line = 1.0
        self._cut_out_open = False
        self._heated = 0.0
        self._since = 0
        self._opens_after: float | None = None

    @classmethod
    def elements(cls, name: str, p: TransformerParameters) -> Iterable[Element]:
        """One source, and what holds its common at or near earth."""
        phase = 180.0 if p.phase == "reversed" else 0.0
        yield transformer(name, f"{name}.hot", f"{name}.common", p.va, regulation=p.regulation, phase_degrees=phase)
        yield Wire(f"{name}.stray", f"{name}.common", EARTH, EARTHING_OHMS if p.common == "earthed" else STRAY_OHMS)

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Its secondary's current and volts; the volts are there too where another source feeds it backwards."""
        return {"amps": Probe(name), "volts": Probe(f"{name}.hot", f"{name}.common")}

    def connect(self) -> None:
        """A protector feels the current."""
        if self.p.cut_out != "none":
            self.level("amps").listen(self._carries)

    def rest(self) -> None:
        """Live."""
        self.power(on=True)

    def power(self, *, on: bool) -> None:
        """Connect or disconnect the primary."""
        self._connected = on
        self._set()

    def feed(self, line_volts: float) -> None:
        """The primary now has that many volts."""
        self._line = line_volts / NOMINAL_LINE_VOLTS
        self._set()

    def _set(self) -> None:
        live = self._connected and not self._cut_out_open
        self.bench.electric.scale(self.name, self.p.supply * self._line if live else 0.0)

    def _carries(self, amps: float) -> None:
        if self._opens_after is not None:
            self._heated += (self.now - self._since) / self._opens_after
        self._since = self.now
        ratio = amps * NOMINAL_VOLTS / self.p.va
        if ratio <= self.p.cut_out_holds:
            self._opens_after, self._heated = None, 0.0
        else:
            holds = min(1.0, self.p.cut_out_holds) ** 2
            self._opens_after = self.p.cut_out_time * (_CUT_OUT_AT**2 - holds) / (ratio**2 - holds)
            left = max(1, round((1 - self._heated) * self._opens_after))
            self.env.timeout(left, self._since).callbacks.append(self._heat_through)

    def _heat_through(self, timer: Any) -> None:
        if self._opens_after is not None and timer.value == self._since:
            self._cut_out_open = True
            self._set()
            if self.p.cut_out == "self_resetting":
                self.env.timeout(self.p.cut_out_reset_time).callbacks.append(self._cool_down)

    def _cool_down(self, _: Any) -> None:
        self._cut_out_open = False
        self._set()


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
