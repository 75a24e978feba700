"""The board of a heat pump's outdoor unit: what a compressor's board does, the reversing valve, and defrost."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting
from stagecall.plant.parameters import Count, Parameters, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Bell
from stagecall.plant.two_stage_cooling import TwoStageBoardParameters, TwoStageCompressorBoard


class HeatPumpBoardParameters(TwoStageBoardParameters, frozen=True, kw_only=True):
    """Valve and defrost.

    ``valve_habit``: the valve follows its call; or keeps its last mode until a compressor call of the other comes; or
    is moved once the compressor has run for ``valve_delay``.

    A defrost is due after ``defrost_interval`` of heating with a cold coil, or by ``demand``: when the coil is frosted,
    not before ``demand_minimum``. A coil that warms meanwhile clears the count or not: ``warm_coil``. The compressor
    stands for ``quiet_shift`` before the valve moves, and ``restart_delay`` more before it runs (0: it runs through).
    A defrost ends when the coil is warm, at the latest after ``defrost_time_limit``. Its heat ends ``aux_after`` later,
    the outdoor fan starts ``fan_after`` later.

    Test pins joined for ``test_hold`` force a defrost; with a warm coil it lasts ``forced_minimum``. While they are
    joined time runs ``speed_up`` times as fast. ``test_held``: how long a person leaves them joined (0: just right).
    """

    energised_for: Literal["cool", "heat"]
    valve_habit: Literal["with_call", "latched", "after_start"]
    valve_delay: Time
    defrost_by: Literal["time", "demand"]
    defrost_interval: Time
    demand_minimum: Time
    warm_coil: Literal["clears", "keeps"]
    quiet_shift: Time
    restart_delay: Time
    defrost_time_limit: Time
    aux_after: Time
    fan_after: Time
    test_hold: Time
    forced_minimum: Time
    speed_up: Count
    test_held: Time = 0
    defrost_relay: Literal["working", "dead"] = "working"


class HeatPumpBoard(TwoStageCompressorBoard):
    """``valve`` drives the valve's relay, ``defrost`` the defrost relay, ``aux`` the relay of the W output.

    ``valve_call`` is the O or B screw, ``coil`` the defrost sensor's load side, ``frost`` that of a demand control.
    """

    takes: ClassVar[type[Parameters]] = HeatPumpBoardParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **TwoStageCompressorBoard.terminals, "valve_call": "control", "coil": "control", "frost": "control",
        "valve": "drive", "defrost": "drive", "aux": "drive",
    }  # fmt: skip
    inputs = (*TwoStageCompressorBoard.inputs, "valve_call", "coil", "frost")
    p: HeatPumpBoardParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._cool = parameters.energised_for == "heat"
        self._defrosting = self._forced = False
        self._counted = 0
        self._started_at = 0
        self._blind_until = 0
        self._pins_until = 0
        self._low_bell = Bell(self.env)

    def begin(self) -> None:
        """The low-pressure switch is watched by a process of its own."""
        super().begin()
        self.env.process(self._watch_low_pressure())

    def wake(self, _: object = None) -> None:
        """The valve and the low-pressure watch look too."""
        super().wake()
        self._low_bell.ring()
        self._choose_valve()

    # -- the valve ----------------------------------------------------------------------------------------------------

    def _choose_valve(self) -> None:
        asked = self.on("valve_call") == (self.p.energised_for == "cool")
        match self.p.valve_habit:
            case "with_call":
                self._cool = asked
            case "latched":
                self._cool = asked if self.on("Y") else self._cool
            case "after_start":
                running = self.outputs["contactor"].value and self.now >= self._started_at + self.p.valve_delay
                self._cool = asked if running else self._cool
        if not self._defrosting:
            self._set_valve(cool=self._cool)

    def _set_valve(self, *, cool: bool) -> None:
        self.outputs["valve"].set(self.powered.value and cool == (self.p.energised_for == "cool"))

    # -- a run --------------------------------------------------------------------------------------------------------

    def _run(self) -> Acting:
        """Run, and in heating defrost whenever it is due."""
        self._running, self._low_pressure_counts, self._forced = True, False, False
        self._start()
        while True:
            yield from self._await_defrost()
            yield from self._defrost()

    def _start(self) -> None:
        self._started_at = self.now
        self._ignore_low_pressure()
        self.outputs["contactor"].set(True)
        self.env.timeout(max(1, self.p.valve_delay)).callbacks.append(self.wake)

    def _await_defrost(self) -> Acting:
        """Count the time of heating with a cold coil."""
        while not self._forced and not self._due():
            cold, since = self._heats_cold(), self.now
            try:
                yield from self.hold(
                    self._time_left() if cold else None,
                    until=lambda cold=cold: self._forced or self._heats_cold() != cold or self._due(),  # type: ignore[misc]
                )
            finally:
                if cold:
                    self._counted += self.now - since
            if cold and not self._heats_cold() and self.p.warm_coil == "clears":
                self._counted = 0

    def _heats_cold(self) -> bool:
        return not self._cool and self.on("coil")

    def _due(self) -> bool:
        if self.p.defrost_relay == "dead":
            return False
        if self.p.defrost_by == "demand":
            return self._counted >= self.p.demand_minimum and self._heats_cold() and self.on("frost")
        return self._counted >= self.p.defrost_interval

    def _time_left(self) -> int | None:
        whole = self.p.demand_minimum if self.p.defrost_by == "demand" else self.p.defrost_interval
        return whole - self._counted if self._counted < whole else None

    # -- defrost ------------------------------------------------------------------------------------------------------

    def _defrost(self) -> Acting:
        """Valve to cool, fan off, W live, until the coil is warm or time is up; then back."""
        forced, self._forced = self._forced, False
        self._counted, self._defrosting = 0, True
        self.outputs["defrost"].set(True)
        self.outputs["aux"].set(True)
        try:
            yield from self._change_over(cool=True)
            self.outputs["outdoor_fan"].set(False)
            if forced:
                yield from self.hold(self.p.forced_minimum, until=lambda: self.on("coil"))
            yield from self.hold(self._time_limit(), until=lambda: not self.on("coil"))
            yield from self._change_over(cool=False)
        finally:
            self._defrosting = False
            self.outputs["defrost"].set(False)
            self._set_valve(cool=self._cool)
            self.env.timeout(max(1, self.p.aux_after)).callbacks.append(self._end_aux)
            self.env.timeout(max(1, self.p.fan_after)).callbacks.append(self._end_fan_rest)

    def _change_over(self, *, cool: bool) -> Acting:
        if self.p.quiet_shift:
            self.outputs["contactor"].set(False)
            yield from self.hold(self.p.quiet_shift)
        self._set_valve(cool=cool)
        if self.p.quiet_shift:
            yield from self.hold(self.p.restart_delay)
            self.outputs["contactor"].set(True)
        self._ignore_low_pressure()

    def _time_limit(self) -> int:
        """What is left of the time limit, which runs fast while the test pins are joined."""
        joined = max(0, self._pins_until - self.now)
        limit = self.p.defrost_time_limit
        fast = round(limit / self.p.speed_up)
        return fast if joined >= fast else limit - round(joined * (self.p.speed_up - 1))

    def _end_aux(self, _: object) -> None:
        if not self._defrosting:
            self.outputs["aux"].set(False)

    def _end_fan_rest(self, _: object) -> None:
        if not self._defrosting and self.outputs["contactor"].value:
            self.outputs["outdoor_fan"].set(True)

    def _contactor_moved(self, on: bool) -> None:
        """The fan stands in a defrost, whatever the compressor does."""
        if self._defrosting:
            self._second_bell.ring()
            self.outputs["outdoor_fan"].set(False)
        else:
            super()._contactor_moved(on)

    def press(self, what: str) -> bool:
        """A person joins the test pins; False where *what* is something else."""
        if what != "defrost_test":
            return False
        held = self.p.test_held or self.p.test_hold
        self._pins_until = self.now + held
        if held >= self.p.test_hold:
            self.env.timeout(max(1, self.p.test_hold)).callbacks.append(self._force)
        return True

    def _force(self, _: object) -> None:
        if self._running and not self._cool and not self._defrosting and self.p.defrost_relay == "working":
            self._forced = True
            self.wake()

    # -- low pressure -------------------------------------------------------------------------------------------------

    def _ignore_low_pressure(self) -> None:
        """Blind after a start and after the valve has moved."""
        self._blind_until = self.now + self.p.low_pressure_bypass

    def _watch_low_pressure(self) -> Acting:
        """Open for its delay outside blind times and defrost, it counts."""
        while True:
            since = self.now
            while self._low() and self.now < since + self.p.low_pressure_delay:
                yield self._low_bell.wait(since + self.p.low_pressure_delay)
            if self._low() and not self._low_pressure_counts:
                self._low_pressure_counts = True
                super().wake()
            blind = self._blind_until if self.now < self._blind_until else None
            yield self._low_bell.wait(blind)

    def _low(self) -> bool:
        return self._running and not self._defrosting and self.now >= self._blind_until and not self.on("low_pressure")
