"""When a board lets the indoor blower run: demands with delays, and the board of an air handler."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters
from stagecall.plant.parameters import Parameters, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Bell


class Demand:
    """A reason for the blower to run: it takes effect after an on-delay, and outlasts its call by an off-delay."""

    __slots__ = ("_ends_at", "_off_delay", "_on_delay", "_stands_from", "called")

    def __init__(self, on_delay: int, off_delay: int) -> None:
        self._on_delay, self._off_delay = on_delay, off_delay
        self.called = False
        self._stands_from: int | None = None
        self._ends_at: int | None = None

    def call(self, on: bool, now: int, off_delay: int | None = None) -> None:
        """The call comes, stays or goes; *off_delay* where it is another this time."""
        if on and not self.called and not self.stands(now):
            self._stands_from = now + self._on_delay
        if on:
            self._ends_at = None
        elif self.called:
            if self.stands(now):
                self._ends_at = now + (self._off_delay if off_delay is None else off_delay)
            else:
                self._stands_from = None
        self.called = on

    def stands(self, now: int) -> bool:
        """Whether it asks for the blower now."""
        if self._stands_from is None or now < self._stands_from:
            return False
        return self._ends_at is None or now < self._ends_at

    def next_change(self, now: int) -> int | None:
        """When it will next change by itself."""
        for moment in (self._stands_from, self._ends_at):
            if moment is not None and moment > now:
                return moment
        return None

    def forget(self) -> None:
        """As a board that has lost its supply."""
        self.called, self._stands_from, self._ends_at = False, None, None


class FanParameters(BoardParameters, frozen=True, kw_only=True):
    """Delays of the blower. ``y_starts_blower``: whether Y without G starts it."""

    fan_off_delay: Time
    cool_blower_on_delay: Time
    cool_blower_off_delay: Time
    y_starts_blower: Literal["yes", "no"]


class FanBoard(Board):
    """The board of an air handler: ``blower`` drives the blower's relay, from G and Y."""

    takes: ClassVar[type[Parameters]] = FanParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control",
        "C": "control",
        "Y": "control",
        "G": "control",
        "blower": "drive",
    }
    inputs: ClassVar[tuple[str, ...]] = ("Y", "G")
    p: Any

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.blower_bell = Bell(self.env)
        self.fan = Demand(0, parameters.fan_off_delay)
        self.cool = Demand(parameters.cool_blower_on_delay, parameters.cool_blower_off_delay)
        self.demands: tuple[Demand, ...] = (self.fan, self.cool)

    def begin(self) -> None:
        """The blower has a process of its own."""
        super().begin()
        self.env.process(self._run_blower())

    def wake(self, _: object = None) -> None:
        """Look anew at everything."""
        super().wake()
        self.blower_bell.ring()

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - nothing else is timed here
        """Nothing but the blower."""
        while True:
            yield from self.hold(until=lambda: False)

    def _run_blower(self) -> Acting:
        """Let the blower run while any demand stands, and look again when the next one changes."""
        while True:
            self.take_calls()
            self.choose_blower()
            changes = [moment for demand in self.demands if (moment := demand.next_change(self.now)) is not None]
            yield self.blower_bell.wait(min(changes, default=None))

    def take_calls(self) -> None:
        """What the inputs ask. G that comes with Y is a part of the cooling call, and starts with it."""
        if not self.powered.value:
            for demand in self.demands:
                demand.forget()
            return
        y, g = self.on("Y"), self.on("G")
        self.cool.call(y and (g or self.p.y_starts_blower == "yes"), self.now)
        self.fan.call(g and (self.fan.called or not y), self.now)

    def choose_blower(self) -> None:
        """Set the outputs."""
        stands = any(demand.stands(self.now) for demand in self.demands)
        self.outputs["blower"].set(self.powered.value and stands)
