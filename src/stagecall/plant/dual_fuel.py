"""A fuel kit: it stands between a thermostat, a heat pump and a furnace, and lets only one of the two heat."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters
from stagecall.plant.parameters import Difference, Parameters, Temperature, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import LookAhead


class FuelKitParameters(BoardParameters, frozen=True, kw_only=True):
    """When it changes over, and how long it waits.

    ``changes_by``: the thermostat alone asks for the furnace (by W); or the kit does too, below ``change_over``
    outdoors and up to ``change_back_higher_by`` above it. The furnace waits until the pump has been off for
    ``to_furnace_delay``; the pump waits ``to_pump_delay`` after the furnace, or until the supply air has cooled to
    ``plenum_cooled``: ``pump_waits_for``. ``fan_with_gas``: whether the thermostat's G reaches the furnace while it
    heats.
    """

    changes_by: Literal["thermostat", "outdoor"]
    change_over: Temperature
    change_back_higher_by: Difference
    to_furnace_delay: Time
    to_pump_delay: Time
    pump_waits_for: Literal["time", "plenum"] = "time"
    plenum_cooled: Temperature = 35.0
    fan_with_gas: Literal["drops", "keeps"]
    exclusion: Literal["working", "missing"] = "working"


class FuelKit(Board):
    """Inputs are the thermostat's Y, W, G and O and the outdoor board's W (``defrost``).

    ``pump``, ``furnace`` and ``fan`` drive the relays to the heat pump's Y, the furnace's W and the furnace's G.
    """

    takes: ClassVar[type[Parameters]] = FuelKitParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control",
        "Y": "control", "W": "control", "G": "control", "O": "control", "defrost": "control",
        "pump": "drive", "furnace": "drive", "fan": "drive",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("Y", "W", "G", "O", "defrost")
    p: FuelKitParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._cold = False
        self._pump_rests = self._furnace_heats = False
        self._pump_off_at = -parameters.to_furnace_delay
        self._cooling_down = LookAhead(self.env, self._until_cooled, self.wake)
        self.outputs["pump"].listen(self._pump_moved)

    def connect(self) -> None:
        """It has a thermostat of its own outdoors."""
        super().connect()
        self.bench.air.surroundings_changed(self.wake)
        self.bench.air.changed(self._cooling_down.anew)

    def wake(self, _: object = None) -> None:
        """What the calls now make of the outputs."""
        self._feel_the_cold()
        self._choose()
        super().wake()

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - it has no timer that begins with its supply
        """The pump runs until gas is asked for; then the pump rests and the furnace heats, and so back."""
        while True:
            self._change(pump_rests=False, furnace_heats=False)
            yield from self.hold(until=self._gas_asked)
            if self.p.exclusion == "working":
                self._change(pump_rests=True, furnace_heats=False)
                yield from self.hold(max(0, self._pump_off_at + self.p.to_furnace_delay - self.now))
            self._change(pump_rests=self.p.exclusion == "working", furnace_heats=True)
            yield from self.hold(until=lambda: not self._gas_asked())
            self._change(pump_rests=True, furnace_heats=False)
            yield from self._let_cool()

    def _let_cool(self) -> Acting:
        """Hot air over the indoor coil would drive the pump's pressure up."""
        if self.p.pump_waits_for == "time":
            yield from self.hold(self.p.to_pump_delay, until=self._gas_asked)
            return
        self._cooling_down.anew()
        yield from self.hold(until=lambda: self._gas_asked() or self._cooled())

    def _cooled(self) -> bool:
        return self.bench.air.supply() <= self.p.plenum_cooled

    def _until_cooled(self) -> int | None:
        waits = self.p.pump_waits_for == "plenum" and self._pump_rests and not self._furnace_heats
        return self.bench.air.supply_crossing(self.p.plenum_cooled) if waits else None

    def _pump_moved(self, on: bool) -> None:
        if not on:
            self._pump_off_at = self.now

    def _gas_asked(self) -> bool:
        """By W; or by a heating call that is too cold for the pump. In a defrost the outdoor board has the say."""
        if self.on("O") or self.on("defrost"):
            return False
        return self.on("W") or (self.on("Y") and self._cold)

    def _feel_the_cold(self) -> None:
        if self.p.changes_by == "outdoor":
            higher = self.p.change_back_higher_by if self._cold else 0.0
            self._cold = self.bench.air.outdoor < self.p.change_over + higher

    def _change(self, *, pump_rests: bool, furnace_heats: bool) -> None:
        self._pump_rests, self._furnace_heats = pump_rests, furnace_heats
        self._choose()

    def _choose(self) -> None:
        powered = self.powered.value
        pump = powered and self.on("Y") and not self._pump_rests
        self.outputs["pump"].set(pump)
        self.outputs["furnace"].set(powered and (self._furnace_heats or (pump and self.on("defrost"))))
        drops = self._furnace_heats and self.p.fan_with_gas == "drops"
        self.outputs["fan"].set(powered and self.on("G") and not drops)
