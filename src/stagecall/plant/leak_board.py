"""The board that answers to leaking flammable refrigerant: between the control and the machines."""

from __future__ import annotations

from typing import ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters
from stagecall.plant.parameters import Parameters, Time
from stagecall.plant.part import Medium


class LeakBoardParameters(BoardParameters, frozen=True, kw_only=True):
    """It answers once the sensor has been away for ``answer_time``, and goes on for ``blower_time`` after it is back.

    ``heat_on_leak``: whether it lets W through meanwhile, as the maker says. ``notices``: whether it looks at its
    sensor at all.
    """

    answer_time: Time
    blower_time: Time
    heat_on_leak: Literal["locked", "allowed"]
    notices: Literal["yes", "no"] = "yes"


class LeakBoard(Board):
    """Y, W and G pass through its relays while ``sensor`` is live; an alarm cuts Y and forces the blower.

    Without power its relays let go: nothing passes, and nothing forces the blower.
    """

    takes: ClassVar[type[Parameters]] = LeakBoardParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "sensor": "control",
        "cool": "drive", "heat": "drive", "fan": "drive", "blower": "drive", "alarm": "drive",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("sensor",)
    p: LeakBoardParameters

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - it looks at its sensor anew each time
        """Let calls through until the sensor is away; then no cooling, and air, until it has long been back."""
        while True:
            self._pass(leaking=False)
            yield from self.hold(until=lambda: not self.on("sensor") and self.p.notices == "yes")
            if (yield from self.hold(self.p.answer_time, until=lambda: self.on("sensor"))):
                continue
            self._pass(leaking=True)
            yield from self._wait_for_clear_air()

    def _wait_for_clear_air(self) -> Acting:
        while True:
            yield from self.hold(until=lambda: self.on("sensor"))
            self.outputs["alarm"].set(False)
            if not (yield from self.hold(self.p.blower_time, until=lambda: not self.on("sensor"))):
                return
            self.outputs["alarm"].set(True)

    def _pass(self, *, leaking: bool) -> None:
        self.outputs["cool"].set(not leaking)
        self.outputs["fan"].set(not leaking)
        self.outputs["heat"].set(not leaking or self.p.heat_on_leak == "allowed")
        self.outputs["blower"].set(leaking)
        self.outputs["alarm"].set(leaking)
