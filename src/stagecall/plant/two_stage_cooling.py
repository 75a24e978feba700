"""A condensing unit of two stages: a two-step compressor, brown-out protection, a fan that may run on."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Stopped
from stagecall.plant.coils import CoilPart
from stagecall.plant.compressor_board import CallEnded, CompressorBoard, CompressorBoardParameters
from stagecall.plant.parameters import Parameters, Share, Temperature, Time, Volts
from stagecall.plant.part import Bench, Medium
from stagecall.plant.refrigerant import RefrigerantCircuit, RefrigerantParameters
from stagecall.plant.signals import Bell, Follower


class StageCoil(CoilPart):
    """The coil on a two-step compressor: pulled in, it pumps all it can."""

    terminals: ClassVar[dict[str, Medium]] = {**CoilPart.terminals, "shaft": "shaft"}


class TwoStageCircuitParameters(RefrigerantParameters, frozen=True, kw_only=True):
    """``low_share``: what of the capacity the low stage gives."""

    low_share: Share


class TwoStageCircuit(RefrigerantCircuit):
    """The refrigerant side of a two-step compressor, which changes its step while it runs."""

    takes: ClassVar[type[Parameters]] = TwoStageCircuitParameters
    p: TwoStageCircuitParameters

    def connect(self) -> None:
        """Follow the step too."""
        self._stage_coil: StageCoil = self.joined("compressor", StageCoil)
        super().connect()
        self._stage_coil.armature.listen(self._changed)

    def pumped(self) -> float:
        """By the stage."""
        return 1.0 if self._stage_coil.armature.value else self.p.low_share


class TwoStageBoardParameters(CompressorBoardParameters, frozen=True, kw_only=True):
    """What this board adds.

    Y2 shifts the running compressor after ``upstage_delay``; whether Y2 without Y1 starts the unit (on its high stage)
    differs: ``y2_alone``. Supply below ``brown_out_below`` for ``brown_out_time`` stops the compressor; it comes back
    ``brown_out_return_delay`` after the supply has risen to ``brown_out_returns``. Above ``fan_runs_on_above`` outdoors
    the fan outlasts the compressor by ``fan_runs_on``.
    """

    upstage_delay: Time
    y2_alone: Literal["nothing", "starts"]
    brown_out_below: Volts
    brown_out_returns: Volts
    brown_out_time: Time
    brown_out_return_delay: Time
    fan_runs_on: Time
    fan_runs_on_above: Temperature


class BrownOut(Stopped):
    """The supply has sagged for too long."""


class TwoStageCompressorBoard(CompressorBoard):
    """``second_stage`` drives the relay between Y2 and the compressor's stage coil, ``outdoor_fan`` the fan's relay."""

    takes: ClassVar[type[Parameters]] = TwoStageBoardParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **CompressorBoard.terminals, "Y2": "control", "second_stage": "drive", "outdoor_fan": "drive",
    }  # fmt: skip
    inputs = (*CompressorBoard.inputs, "Y2")
    p: TwoStageBoardParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self.sagging = Follower(
            self.env, self.level("supply"), p.brown_out_returns, p.brown_out_below, 1, p.brown_out_time
        )
        self._second_bell = Bell(self.env)
        self._fan_until = 0

    def adopt(self) -> None:
        """The supply as it is."""
        self.sagging.adopt()
        super().adopt()

    def begin(self) -> None:
        """The second stage and the fan have processes of their own."""
        super().begin()
        self.sagging.listen(self._supply_changed)
        self.outputs["contactor"].listen(self._contactor_moved)
        self.env.process(self._run_second_stage())

    def on(self, terminal: str) -> bool:
        """Y2 counts as a call where it may start the unit."""
        if terminal == "Y" and self.p.y2_alone == "starts" and super().on("Y2"):
            return True
        return super().on(terminal)

    def check(self) -> None:
        """A sagging supply stops the compressor too."""
        if self.powered.value and not self.sagging.value and (self._starting or self._running):
            raise BrownOut
        super().check()

    def _serve_call(self) -> Acting:
        """As ever; after a brown-out the compressor waits for the supply, and then for the return delay."""
        while True:
            try:
                yield from super()._serve_call()
            except BrownOut:
                self._stop()
                self._starting = False
                yield from self.hold(until=lambda: self.sagging.value)
                self._keep_off(self.p.brown_out_return_delay)
                if not self.on("Y"):
                    raise CallEnded from None

    def _supply_changed(self, sound: bool) -> None:
        if not sound:
            self.outputs["second_stage"].set(False)
        self.wake()

    def wake(self, _: object = None) -> None:
        """The second stage looks too."""
        super().wake()
        self._second_bell.ring()

    def _contactor_moved(self, on: bool) -> None:
        """The fan runs with the compressor; in great heat it blows on after it."""
        self._second_bell.ring()
        if on:
            self.outputs["outdoor_fan"].set(True)
        elif self.powered.value and self.p.fan_runs_on and self.bench.air.outdoor >= self.p.fan_runs_on_above:
            self._fan_until = self.now + self.p.fan_runs_on
            self.env.timeout(self.p.fan_runs_on).callbacks.append(self._fan_off)
        else:
            self.outputs["outdoor_fan"].set(False)

    def _fan_off(self, _: object) -> None:
        if not self.outputs["contactor"].value and self.now >= self._fan_until:
            self.outputs["outdoor_fan"].set(False)

    def _run_second_stage(self) -> Acting:
        """Y2 with the compressor running shifts it; either gone, it shifts back."""
        second = self.outputs["second_stage"]
        while True:
            if self._second_called() and not second.value:
                due = self.now + self.p.upstage_delay
                while self._second_called() and self.now < due:
                    yield self._second_bell.wait(due)
            second.set(self._second_called())
            yield self._second_bell.wait()

    def _second_called(self) -> bool:
        return self.powered.value and self.outputs["contactor"].value and super().on("Y2")
