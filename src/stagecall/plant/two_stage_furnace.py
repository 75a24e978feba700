"""A gas furnace of two stages: a second coil on its valve, a second speed of its inducer, and the board for both."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting
from stagecall.plant.burner import Burner, BurnerParameters
from stagecall.plant.coils import CoilPart
from stagecall.plant.furnace_board import FurnaceBoard, FurnaceParameters
from stagecall.plant.motors import Inducer, InducerParameters
from stagecall.plant.parameters import Count, Parameters, Pressure, Share, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.relays import Driver
from stagecall.plant.signals import Signal


class HighFireCoil(CoilPart):
    """The second coil of a two-stage gas valve: it lets the full flow through, where the first lets any."""

    terminals: ClassVar[dict[str, Medium]] = {**CoilPart.terminals, "gas": "gas"}


class TwoStageBurnerParameters(BurnerParameters, frozen=True, kw_only=True):
    """``low_share``: what of the input burns on low fire."""

    low_share: Share


class TwoStageBurner(Burner):
    """Burns low, or high while the second coil is pulled in."""

    takes: ClassVar[type[Parameters]] = TwoStageBurnerParameters
    p: TwoStageBurnerParameters

    def connect(self) -> None:
        """Find the second coil too."""
        super().connect()
        self._high = self.joined("gas", HighFireCoil)
        self._high.armature.listen(self._fire)

    def _fire(self, _: bool) -> None:
        if self.burns:
            self._exchanger.take_up(self.heat())

    def heat(self) -> float:
        """Watts, by the stage."""
        return super().heat() * (1.0 if self._high.armature.value else self.p.low_share)


class TwoSpeedInducerParameters(InducerParameters, frozen=True, kw_only=True):
    """``draft`` is what it pulls at high speed, ``low_draft`` at low speed."""

    low_draft: Pressure


class TwoSpeedInducer(Inducer):
    """Turns at low speed unless the board's output at ``speed`` asks for high speed."""

    takes: ClassVar[type[Parameters]] = TwoSpeedInducerParameters
    terminals: ClassVar[dict[str, Medium]] = {**Inducer.terminals, "speed": "speed"}
    p: TwoSpeedInducerParameters

    def __init__(self, bench: Bench, name: str, parameters: TwoSpeedInducerParameters) -> None:
        super().__init__(bench, name, parameters)
        self._high: Signal[bool] = Signal(value=False)

    def connect(self) -> None:
        """Follow the board's choice."""
        super().connect()
        board, output = self.all_joined("speed", Driver)[0]
        self._high = board.outputs[output]
        self._high.listen(self._run)

    def full_draft(self) -> float:
        """By the speed."""
        return self.p.draft if self._high.value else self.p.low_draft


class TwoStageFurnaceParameters(FurnaceParameters, frozen=True, kw_only=True):
    """How it lights, and when it goes to high fire and back.

    ``light_off``: on which fire it lights; after a light on high it goes back to low ``low_again_after`` flame.
    ``upstage``: high fire is asked for by W2; by a timer, ``upstage_time`` after flame; or by a board that adapts: a
    call that ends on low fire lets the next stay ``adapts_by`` longer on low, one that needed high fire as much less,
    between nothing and ``low_fire_most`` (it begins with ``upstage_time``; how it adapts differs between makers, and
    this rule is trade knowledge, no published source found). After ``low_trips_to_high`` limit trips on low fire a call
    goes on on high fire alone. A low pressure switch that has not closed after ``draft_help_after`` is helped by high
    speed (0: never).
    """

    light_off: Literal["low", "high"]
    low_again_after: Time
    upstage: Literal["call", "timer", "adaptive"]
    upstage_time: Time
    adapts_by: Time = 120_000
    low_fire_most: Time = 960_000
    low_trips_to_high: Count = 1_000
    draft_help_after: Time = 0


_TAPS = ("heat_tap", "high_heat_tap", "cool_tap", "high_cool_tap", "fan_tap")


class TwoStageFurnaceBoard(FurnaceBoard):
    """As the one-stage board, with W2 and Y2, a second pressure switch, and a call for each speed of the blower.

    High fire needs the high pressure switch: the board waits on low fire until it makes, and goes back when it opens.
    """

    takes: ClassVar[type[Parameters]] = TwoStageFurnaceParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **FurnaceBoard.terminals,
        "W2": "control", "Y2": "control", "pressure_switch_high": "control",
        "high_fire": "drive", "inducer_speed": "speed", **dict.fromkeys(_TAPS, "drive"),
    }  # fmt: skip
    inputs = (*FurnaceBoard.inputs, "W2", "Y2", "pressure_switch_high")
    p: TwoStageFurnaceParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._low_fire_time = parameters.upstage_time
        self._flame_at = 0
        self._was_high = False
        self._low_trips = 0

    def _prove_draft(self) -> Acting:
        """On high speed where it lights on high, or where low speed does not close the low pressure switch."""
        lights_high = self.p.light_off == "high"
        self._speed(high=lights_high)
        if self.p.draft_help_after and not lights_high:
            self.env.timeout(self.p.draft_help_after).callbacks.append(self._help_draft)
        yield from super()._prove_draft()
        if lights_high:
            yield from self.hold(until=lambda: self.on("pressure_switch_high"))

    def _help_draft(self, _: Any) -> None:
        if self._in_call and not self._draft_needed and self.outputs["inducer"].value:
            self._speed(high=True)

    def _valve_moved(self, on: bool) -> None:
        """The second coil opens with the first, where it lights on high."""
        super()._valve_moved(on)
        if on and self.p.light_off == "high":
            self.outputs["high_fire"].set(self.on("pressure_switch_high"))

    def _burn(self) -> Acting:
        """Low fire until high fire is asked for, and back when it no longer is."""
        self._call_blower(on=True)
        self._flame_at, self._was_high = self.now, False
        if self._lit_high():
            yield from self.hold(self.p.low_again_after)
        while True:
            self._fire_low()
            yield from self._wait_for_high_call()
            self._speed(high=True)
            yield from self.hold(until=lambda: self.on("pressure_switch_high") or not self._high_called())
            if self._high_called():
                self._fire_high()
                yield from self.hold(until=lambda: not (self._high_called() and self.on("pressure_switch_high")))

    def _lit_high(self) -> bool:
        return self.outputs["high_fire"].value or self.outputs["inducer_speed"].value

    def _wait_for_high_call(self) -> Acting:
        left = None
        if self.p.upstage != "call":
            left = max(0, self._flame_at + self._low_fire_time - self.now)
        yield from self.hold(left, until=self._high_called)

    def _high_called(self) -> bool:
        only_high = self._low_trips >= self.p.low_trips_to_high
        if self.p.upstage == "call":
            return only_high or self.on("W2")
        return only_high or self.now >= self._flame_at + self._low_fire_time

    def _fire_low(self) -> None:
        self.outputs["high_fire"].set(False)
        self._speed(high=False)
        self.wake()

    def _fire_high(self) -> None:
        self._was_high = True
        self.outputs["high_fire"].set(True)
        self.wake()

    def _speed(self, *, high: bool) -> None:
        self.outputs["inducer_speed"].set(high)

    def _gas_off(self) -> None:
        """Both coils."""
        self.outputs["high_fire"].set(False)
        self._speed(high=False)
        super()._gas_off()

    def _shut_down(self) -> Acting:
        """A board that adapts learns from the call."""
        if self.p.upstage == "adaptive" and self._flame_needed:
            longer = self._low_fire_time + (-self.p.adapts_by if self._was_high else self.p.adapts_by)
            self._low_fire_time = min(max(longer, 0), self.p.low_fire_most)
        self._low_trips = 0
        yield from super()._shut_down()

    def _wait_for_limit(self) -> Any:
        """A trip on low fire counts."""
        self._low_trips += self._flame_needed and not self.outputs["high_fire"].value
        return (yield from super()._wait_for_limit())

    def choose_blower(self) -> None:
        """One speed call to the motor at a time: heat before cooling before the fan, the higher stage first."""
        super().choose_blower()
        chosen = ""
        if self.outputs["blower"].value:
            if self.outputs["speed"].value and (self.heat.stands(self.now) or self._hot()):
                chosen = "high_heat_tap" if self.outputs["high_fire"].value or self._hot() else "heat_tap"
            elif self.cool.stands(self.now):
                chosen = "high_cool_tap" if self.on("Y2") else "cool_tap"
            else:
                chosen = "fan_tap"
        for tap in _TAPS:
            self.outputs[tap].set(tap == chosen)
