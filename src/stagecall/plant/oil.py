"""An oil burner with its primary control, and the switch in the air that runs the blower."""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Board, BoardParameters, Stopped
from stagecall.plant.burner import HeatExchanger
from stagecall.plant.line import Load, SensingFeeder
from stagecall.plant.parameters import Amps, Count, Difference, Ohms, Parameters, Power, Share, Temperature, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Agenda, Signal
from stagecall.plant.switches import SafetySwitch, SwitchParameters


class OilIgnitionParameters(Parameters, frozen=True, kw_only=True):
    """A spark transformer."""

    running_amps: Amps
    spark: Literal["sound", "dead"] = "sound"


class OilIgnition(Load):
    """The spark that lights the oil."""

    takes: ClassVar[type[Parameters]] = OilIgnitionParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "spark": "glow"}
    p: OilIgnitionParameters

    def __init__(self, bench: Bench, name: str, parameters: OilIgnitionParameters) -> None:
        super().__init__(bench, name, parameters)
        self.sparks = Signal(value=False)

    def connect(self) -> None:
        """Spark when fed."""
        super().connect()
        self.fed.listen(self._feed_spark)

    def _feed_spark(self, fed: bool) -> None:
        sparks = fed and self.p.spark == "sound"
        self.amps.set(self.p.running_amps if sparks else 0.0)
        self.sparks.set(sparks)


class OilBurnerParameters(Parameters, frozen=True, kw_only=True):
    """``light_time``: from oil at the spark to an established flame. ``oil``: whether any comes."""

    running_amps: Amps
    input: Power
    efficiency: Share
    light_time: Time
    motor: Literal["sound", "dead"] = "sound"
    oil: Literal["comes", "out"] = "comes"


class OilBurner(Load):
    """Motor, fan and pump on one shaft: while it turns, oil comes; lit by the spark it burns until the motor stops."""

    takes: ClassVar[type[Parameters]] = OilBurnerParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "spark": "glow", "heat": "heat", "flame": "flame"}
    p: OilBurnerParameters

    def __init__(self, bench: Bench, name: str, parameters: OilBurnerParameters) -> None:
        super().__init__(bench, name, parameters)
        self.burns = Signal(value=False)
        self._agenda = Agenda(self.env)

    def connect(self) -> None:
        """Find spark and exchanger."""
        super().connect()
        self._spark = self.joined("spark", OilIgnition).sparks
        self._exchanger = self.joined("heat", HeatExchanger)
        self.fed.listen(self._changed)
        self._spark.listen(self._changed)

    def _changed(self, _: object = None) -> None:
        self._agenda.forget()
        turning = self.fed.value and self.p.motor == "sound"
        self.amps.set(self.p.running_amps if turning else 0.0)
        if not turning or self.p.oil == "out":
            self._burn(burns=False)
        elif not self.burns.value and self._spark.value:
            self._agenda.after(self.p.light_time, lambda: self._burn(burns=True))

    def _burn(self, *, burns: bool) -> None:
        if burns != self.burns.value:
            self._exchanger.take_up(self.p.input * self.p.efficiency if burns else 0.0)
            self.burns.set(burns)


class FlameDetectorParameters(SwitchParameters, frozen=True, kw_only=True):
    """``lit_ohms`` of the cell in the flame's light, and what the primary control takes for a flame: less than this.

    Sound cells have 300 to 1000 ohm before a flame, and controls see one up to 1600 ohm (trade knowledge, no published
    source found). Soot and a cell that looks aside raise it.
    """

    lit_ohms: Ohms = 600.0
    seen_below: Ohms = 1600.0


class FlameDetector(SafetySwitch):
    """A light-sensitive cell that looks at the flame; its circuit is the primary control's own, not of the 24 V."""

    takes: ClassVar[type[Parameters]] = FlameDetectorParameters
    p: FlameDetectorParameters
    terminals: ClassVar[dict[str, Medium]] = {"flame": "flame", "in": "control", "out": "control"}

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self._wants = False

    def connect(self) -> None:
        """Look at the flame."""
        if self.p.lit_ohms < self.p.seen_below:
            self.joined("flame", OilBurner).burns.listen(self.wants)


class OilPrimaryParameters(BoardParameters, frozen=True, kw_only=True):
    """Times and counts of a call.

    The motor waits ``valve_delay`` (pre-purge). Flame must be seen within ``safety_time``; then the spark goes on for
    ``spark_after_flame``. Flame lost, it waits ``recycle_wait`` and tries again, ``recycles`` times in one call. A
    trial that fails locks it out until a person resets it. After the call the motor stops at once.
    """

    valve_delay: Time
    safety_time: Time
    spark_after_flame: Time
    flame_response: Time
    recycle_wait: Time
    recycles: Count


class CallEnded(Stopped):
    """T-T is open."""


class FlameLost(Stopped):
    """The detector sees no flame any more."""


class OilPrimary(Board):
    """T-T on its own 24 V (R and W), motor and spark on line voltage, and a dry alarm contact."""

    takes: ClassVar[type[Parameters]] = OilPrimaryParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "W": "control",
        "motor": "drive", "spark": "drive", "alarm": "drive", "flame": "flame",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("W",)
    p: OilPrimaryParameters

    def __init__(self, bench: Bench, name: str, parameters: OilPrimaryParameters) -> None:
        super().__init__(bench, name, parameters)
        self._in_call = self._flame_needed = False
        self.locked_out = False

    def connect(self) -> None:
        """Find the detector."""
        super().connect()
        self._flame = self.joined("flame", FlameDetector).closed
        self._flame.listen(self.wake)

    def check(self) -> None:
        """What ends a call."""
        super().check()
        if self._in_call and not self.on("W"):
            raise CallEnded
        if self._flame_needed and not self._flame.value:
            raise FlameLost

    def operate(self, *, rested: bool) -> Acting:  # noqa: ARG002 - a lockout outlasts a loss of power
        """Rest until T-T closes and no flame is seen, serve the call, and so on."""
        self._in_call = self._flame_needed = False
        while True:
            yield from self._stay_locked_out()
            yield from self.hold(until=lambda: self.on("W") and not self._flame.value)
            try:
                yield from self._serve_call()
            except CallEnded:
                self._oil_off()

    def _serve_call(self) -> Acting:
        """One call, from T-T closed to open, or to a lockout."""
        self._in_call = True
        recycles = 0
        while True:
            yield from self.hold(self.p.valve_delay)
            self.outputs["spark"].set(True)
            self.outputs["motor"].set(True)
            if not (yield from self.hold(self.p.safety_time, until=lambda: self._flame.value)):
                self.locked_out = True
                self._oil_off()
                return
            try:
                yield from self._burn()
            except FlameLost:
                recycles += 1
                self._oil_off()
                if recycles > self.p.recycles:
                    self.locked_out = True
                    return
                self._in_call = True
                yield from self.hold(self.p.recycle_wait)

    def _burn(self) -> Acting:
        """With flame; the spark goes on a little. A flame is lost once it was away for the response time."""
        yield from self.hold(self.p.spark_after_flame)
        self.outputs["spark"].set(False)
        while True:
            yield from self.hold(until=lambda: not self._flame.value)
            self._flame_needed = not (yield from self.hold(self.p.flame_response, until=lambda: self._flame.value))

    def _oil_off(self) -> None:
        self.outputs["motor"].set(False)
        self.outputs["spark"].set(False)
        self._in_call = self._flame_needed = False

    def _stay_locked_out(self) -> Acting:
        self.outputs["alarm"].set(self.locked_out)
        yield from self.hold(until=lambda: not self.locked_out)
        self.outputs["alarm"].set(False)

    def clear(self, what: str) -> bool:
        """The red button."""
        if what != "ignition_lockout":
            return False
        self.locked_out = False
        self.wake()
        return True


class FanSwitchParameters(Parameters, frozen=True, kw_only=True):
    """Closes on a rise of the plenum past ``closes``, opens ``opens_lower_by`` below; ``share`` as of a limit."""

    closes: Temperature
    opens_lower_by: Difference
    share: Share
    contact: Literal["free", "stuck_closed", "stuck_open"] = "free"


class FanSwitch(SensingFeeder):
    """A thermal switch in the plenum that feeds the blower: no call and no board has a part in it."""

    takes: ClassVar[type[Parameters]] = FanSwitchParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "load": "line", "heat": "heat"}
    p: FanSwitchParameters

    def __init__(self, bench: Bench, name: str, parameters: FanSwitchParameters) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contact == "stuck_closed")

    def connect(self) -> None:
        """Look ahead anew whenever the air changes."""
        super().connect()
        self._exchanger = self.joined("heat", HeatExchanger)
        if self.p.contact == "free":
            self.bench.air.changed(self.look_ahead.anew)

    def next_change(self) -> int | None:
        """When the plenum passes its threshold."""
        threshold = self.p.closes - (self.p.opens_lower_by if self.closed.value else 0.0)
        return self._exchanger.senses(threshold, self.p.share)
