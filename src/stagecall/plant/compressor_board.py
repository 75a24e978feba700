"""The board of a one-stage condensing unit: minimum off, power-up delay, pressure switches and their trips."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters, Stopped
from stagecall.plant.parameters import Count, Parameters, Time
from stagecall.plant.part import Bench, Medium


class CompressorBoardParameters(BoardParameters, frozen=True, kw_only=True):
    """Timers and counts.

    After power-up the compressor waits ``power_up_delay`` and up to ``power_up_spread`` more, drawn anew each time. The
    low-pressure switch is ignored for ``low_pressure_bypass`` after a start, and must then stay open for
    ``low_pressure_delay``. After ``trips_allowed`` trips in one call it is locked out, until the call or the power
    goes, as ``lockout_ends_with`` says.
    """

    compressor_minimum_off: Time
    power_up_delay: Time
    power_up_spread: Time
    low_pressure_bypass: Time
    low_pressure_delay: Time
    trips_allowed: Count
    lockout_ends_with: Literal["call", "power"]
    timer: Literal["working", "missing"] = "working"


class CallEnded(Stopped):
    """Y is gone."""


class HighPressure(Stopped):
    """The high-pressure switch has opened."""


class LowPressure(Stopped):
    """The low-pressure switch has opened and counts."""


class CompressorBoard(Board):
    """``contactor`` drives the relay between Y and the contactor's coil; the switches are read from their load side."""

    takes: ClassVar[type[Parameters]] = CompressorBoardParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "Y": "control", "high_pressure": "control", "low_pressure": "control",
        "contactor": "drive",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("Y", "high_pressure", "low_pressure")
    p: CompressorBoardParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.may_start_at = 0
        self.trips = 0
        self.locked_out = False
        self._starting = False
        self._running = False
        self._low_pressure_counts = False

    def check(self) -> None:
        """What stops a compressor."""
        super().check()
        if self._starting or self._running:
            if not self.on("Y"):
                raise CallEnded
            if not self.on("high_pressure"):
                raise HighPressure
        if self._running and self._low_pressure_counts and not self.on("low_pressure"):
            raise LowPressure

    def operate(self, *, rested: bool) -> Acting:
        """Wait out the power-up delay; then serve one call for cooling after the other."""
        self.trips, self.locked_out = 0, False
        if not rested:
            spread = round(self.random.uniform(0, self.p.power_up_spread))
            self._keep_off(self.p.power_up_delay + spread)
        while True:
            self._starting = self._running = False
            yield from self.hold(until=lambda: self.on("Y"))
            try:
                yield from self._serve_call()
            except CallEnded:
                self._stop()
                self.trips = 0
                self.locked_out = self.locked_out and self.p.lockout_ends_with == "power"

    def _serve_call(self) -> Acting:
        while True:
            try:
                self._starting = True
                yield from self.hold(self.may_start_at - self.now)
                yield from self.hold(until=lambda: not self.locked_out)
            except HighPressure:
                yield from self._wait_for_pressure()
                continue
            try:
                yield from self._run()
            except (HighPressure, LowPressure):
                self._stop()
                self.trips += 1
                self.locked_out = self.trips >= self.p.trips_allowed
                yield from self._wait_for_pressure()

    def _run(self) -> Acting:
        self._running, self._low_pressure_counts = True, False
        self.outputs["contactor"].set(True)
        yield from self.hold(self.p.low_pressure_bypass)
        while True:
            yield from self.hold(until=lambda: not self.on("low_pressure"))
            self._low_pressure_counts = not (
                yield from self.hold(self.p.low_pressure_delay, until=lambda: self.on("low_pressure"))
            )

    def _stop(self) -> None:
        self.outputs["contactor"].set(False)
        if self._running:
            self._keep_off(self.p.compressor_minimum_off)
        self._running = False

    def _wait_for_pressure(self) -> Acting:
        self._starting = self._running = False
        yield from self.hold(until=lambda: not self.on("Y") or self.on("high_pressure"))

    def _keep_off(self, ms: int) -> None:
        if self.p.timer == "working":
            self.may_start_at = self.now + ms

    def clear(self, what: str) -> bool:
        """The test pin: ends a pressure lockout."""
        if what != "pressure_lockout":
            return False
        self.locked_out, self.trips = False, 0
        self.wake()
        return True
