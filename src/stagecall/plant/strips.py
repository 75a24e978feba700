"""Electric heat in an air handler: strips, their cut-outs, thermal sequencers, and an electronic board."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Contact, Element, Wire
from stagecall.plant.electric import Probe
from stagecall.plant.fan_control import Demand, FanBoard, FanParameters
from stagecall.plant.line import Load, SensingFeeder
from stagecall.plant.parameters import (
    Airflow,
    Conductance,
    Count,
    Difference,
    Ohms,
    Parameters,
    Power,
    Share,
    Temperature,
    Time,
    Volts,
)
from stagecall.plant.part import Bench, Medium
from stagecall.plant.relays import Driver
from stagecall.plant.signals import Bell, Follower, Signal

STAGES = ("stage_1", "stage_2", "stage_3")


class StripParameters(Parameters, frozen=True, kw_only=True):
    """``power`` at ``supply``; the figures of its metal in the air stream hold at ``rated_airflow``."""

    power: Power
    supply: Volts
    time_constant: Time
    effectiveness: Share
    still: Conductance
    rated_airflow: Airflow
    element: Literal["sound", "open"] = "sound"


class Strip(Load):
    """One heating element."""

    takes: ClassVar[type[Parameters]] = StripParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "heat": "heat"}
    p: StripParameters

    def __init__(self, bench: Bench, name: str, parameters: StripParameters) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self.metal = bench.air.store(p.time_constant, p.effectiveness, p.still, p.rated_airflow)

    def connect(self) -> None:
        """Heat when fed."""
        super().connect()
        self.fed.listen(self._feed_element)

    def _feed_element(self, fed: bool) -> None:
        heats = fed and self.p.element == "sound"
        self.amps.set(self.p.power / self.p.supply if heats else 0.0)
        self.bench.air.set_heat(self.metal, self.p.power if heats else 0.0)


class StripCutOutParameters(Parameters, frozen=True, kw_only=True):
    """It opens when the metal beside it is at ``opens``, and closes again ``closes_lower_by`` below."""

    opens: Temperature
    closes_lower_by: Difference
    contact: Literal["free", "stuck_closed", "stuck_open"] = "free"


class StripCutOut(SensingFeeder):
    """The thermal cut-out in a strip's line; ``heat`` is joined to the strip that it sits beside."""

    takes: ClassVar[type[Parameters]] = StripCutOutParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "load": "line", "heat": "heat"}
    p: StripCutOutParameters

    def __init__(self, bench: Bench, name: str, parameters: StripCutOutParameters) -> None:
        super().__init__(bench, name, parameters)
        self.closed = Signal(parameters.contact != "stuck_open")

    def connect(self) -> None:
        """Look ahead anew whenever the air changes."""
        super().connect()
        self._strip = self.joined("heat", Strip)
        if self.p.contact == "free":
            self.bench.air.changed(self.look_ahead.anew)

    def next_change(self) -> int | None:
        """When the metal passes its threshold."""
        threshold = self.p.opens - (0.0 if self.closed.value else self.p.closes_lower_by)
        return self.bench.air.crossing(self._strip.metal, 1.0, threshold)


class HeatSequencerParameters(Parameters, frozen=True, kw_only=True):
    """A heater of ``heater_ohms`` bends a bimetal.

    Its first contact makes ``make_time`` after the heater has at least ``works_from``, each further one ``make_step``
    later. They break in reverse: the last ``break_time`` after the heater has lost its voltage, each other one
    ``break_step`` later. ``stages``: how many contacts it has. An open ``heater`` has its volts and bends nothing.
    """

    heater_ohms: Ohms
    works_from: Volts
    make_time: Time
    make_step: Time
    break_time: Time
    break_step: Time
    stages: Count
    heater: Literal["sound", "open"] = "sound"


class HeatSequencer(Driver):
    """A thermal sequencer; its contacts are relays driven by ``stage_1`` to ``stage_3``."""

    takes: ClassVar[type[Parameters]] = HeatSequencerParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "coil_1": "control", "coil_2": "control", "stage_1": "drive", "stage_2": "drive", "stage_3": "drive",
    }  # fmt: skip
    p: HeatSequencerParameters

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:
        """The heater."""
        a, b = f"{name}.coil_1", f"{name}.coil_2"
        yield Contact(name, a, b) if p.heater == "open" else Wire(name, a, b, p.heater_ohms)

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Volts across the heater."""
        return {"coil": Probe(f"{name}.coil_1", f"{name}.coil_2")}

    def __init__(self, bench: Bench, name: str, parameters: HeatSequencerParameters) -> None:
        super().__init__(bench, name, parameters)
        p, volts = parameters, self.level("coil")
        stages = STAGES[: round(p.stages)]
        for place, stage in enumerate(stages):
            make = p.make_time + place * p.make_step
            breaks = p.break_time + (len(stages) - 1 - place) * p.break_step
            follower = Follower(self.env, volts, p.works_from, p.works_from, make, breaks)
            if p.heater == "sound":
                follower.listen(self.outputs[stage].set)


class StripBoardParameters(FanParameters, frozen=True, kw_only=True):
    """``stage_delay`` lies between one strip and the next, both ways; the blower outlasts the last one."""

    stage_delay: Time
    heat_blower_off_delay: Time


class StripBoard(FanBoard):
    """An electronic board: W1 to W3 call one strip more each, last on first off, and the blower runs with any."""

    takes: ClassVar[type[Parameters]] = StripBoardParameters
    terminals: ClassVar[dict[str, Medium]] = {
        **FanBoard.terminals, "W1": "control", "W2": "control", "W3": "control",
        "stage_1": "drive", "stage_2": "drive", "stage_3": "drive",
    }  # fmt: skip
    inputs = (*FanBoard.inputs, "W1", "W2", "W3")

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.heat = Demand(0, parameters.heat_blower_off_delay)
        self.demands = (*self.demands, self.heat)
        self._strip_bell = Bell(self.env)

    def begin(self) -> None:
        """The strips have a process of their own."""
        super().begin()
        self.env.process(self._run_strips())

    def wake(self, _: object = None) -> None:
        """The strips look too."""
        super().wake()
        self._strip_bell.ring()

    def take_calls(self) -> None:
        """Heat is called while it is asked for or any strip is on."""
        super().take_calls()
        if self.powered.value:
            self.heat.call(self._asked() > 0 or self._on() > 0, self.now)

    def _asked(self) -> int:
        """The highest stage that is called."""
        if not self.powered.value:
            return 0
        return max((stage for stage in (1, 2, 3) if self.on(f"W{stage}")), default=0)

    def _on(self) -> int:
        return sum(self.outputs[stage].value for stage in STAGES)

    def _run_strips(self) -> Any:
        """One strip at a time, either way."""
        moved = -self.p.stage_delay
        while True:
            asked, on = self._asked(), self._on()
            due = moved + self.p.stage_delay
            if asked == on:
                yield self._strip_bell.wait()
            elif self.now < due:
                yield self._strip_bell.wait(due)
            else:
                self.outputs[STAGES[on] if asked > on else STAGES[on - 1]].set(asked > on)
                moved = self.now
                self.blower_bell.ring()
