"""The control of a hot-water boiler: what calls it, what it fires and which circulator runs."""

from __future__ import annotations

from typing import ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters
from stagecall.plant.parameters import Difference, Parameters, Temperature, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Signal
from stagecall.plant.water import Boiler, Warm


class AquastatParameters(BoardParameters, frozen=True, kw_only=True):
    """Times and temperatures of a call.

    Water above ``stored_heat_from`` is sent round for ``stored_heat_time`` before the burner is fired; firing itself
    takes ``fire_delay`` (vent damper, pilot). The circulator runs on for ``post_purge``. With ``hot_water_first`` the
    space circulator stands while the tank calls. A ``tankless`` coil keeps the water at ``low`` without any call, and
    holds the circulator off below it.
    """

    fire_delay: Time
    stored_heat_time: Time
    stored_heat_from: Temperature
    post_purge: Time
    hot_water_first: Literal["yes", "no"]
    tankless: Literal["no", "yes"] = "no"
    low: Temperature = 65.0
    low_closes_lower_by: Difference = 5.0


class AquastatRelay(Board):
    """Inputs W (T-T, or the zone valves' end switches) and the tank's aquastat; it fires through the limit string."""

    takes: ClassVar[type[Parameters]] = AquastatParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "W": "control", "tank": "control",
        "burner": "drive", "circulator": "drive", "tank_circulator": "drive", "water": "heat",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("W", "tank")
    p: AquastatParameters

    def __init__(self, bench: Bench, name: str, parameters: AquastatParameters) -> None:
        super().__init__(bench, name, parameters)
        self._called = False
        self._fires_at = 0
        self._stops_at = 0
        self._space = False

    def connect(self) -> None:
        """Put its sensor into the water."""
        super().connect()
        boiler = self.joined("water", Boiler)
        self._stored: Signal[bool] = Warm(boiler, self.p.stored_heat_from, self.p.stored_heat_from)
        self._above_low: Signal[bool] = Warm(boiler, self.p.low, self.p.low - self.p.low_closes_lower_by)
        self._above_low.listen(self.wake)

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - a boiler begins anew after any loss of power
        """Look at the calls, set the outputs, wait for the next change."""
        self._called = self._space = False
        while True:
            moments = self._decide()
            self.check()
            yield self.bell.wait(min((moment for moment in moments if moment > self.now), default=None))
            self.check()

    def _decide(self) -> tuple[int, ...]:
        """Set the outputs; returns when to look again."""
        space, tank = self.on("W"), self.on("tank")
        called = space or tank
        if called and not self._called:
            self._fires_at = self.now + self.p.fire_delay + (self.p.stored_heat_time if self._stored.value else 0)
        self._called = called
        if self._space and not space:
            self._stops_at = self.now + self.p.post_purge
        self._space = space
        keeps_warm = self.p.tankless == "yes" and not self._above_low.value
        self.outputs["burner"].set((called and self.now >= self._fires_at) or keeps_warm)
        held_off = keeps_warm or (tank and self.p.hot_water_first == "yes")
        self.outputs["circulator"].set((space or self.now < self._stops_at) and not held_off)
        self.outputs["tank_circulator"].set(tank)
        return self._fires_at, self._stops_at
