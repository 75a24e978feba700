"""The constant-airflow blower motor: always on line voltage, told its airflow by 24 V calls."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar, Literal

from stagecall.circuit import Element, Wire
from stagecall.plant.electric import Probe
from stagecall.plant.parameters import Airflow, Amps, Ohms, Parameters, Share, Time, Volts
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.signals import Follower, Signal

TAPS = ("heat", "high_heat", "cool", "high_cool", "fan")


class ConstantAirflowParameters(Parameters, frozen=True, kw_only=True):
    """An airflow for each speed call; the largest of those called counts.

    ``passage`` is the share of the air that the system lets through at one speed. The motor turns faster against it and
    keeps its airflow down to ``keeps_airflow_to``; its current rises by ``strain`` of the running amps for all of the
    passage lost. A call that goes is heard ``input_off_delay`` later, longer than the gap between two of them.
    ``input_part``: whether the motor's own electronics hear the calls; ``lost_tap``: one that its plug does not bring.
    """

    running_amps: Amps
    standby_amps: Amps
    heat_airflow: Airflow
    high_heat_airflow: Airflow
    cool_airflow: Airflow
    high_cool_airflow: Airflow
    fan_airflow: Airflow
    input_ohms: Ohms
    input_on: Volts
    input_off: Volts
    input_delay: Time
    input_off_delay: Time
    run_up: Time
    coast_down: Time
    keeps_airflow_to: Share
    strain: Share
    passage: Share = 1.0
    motor: Literal["sound", "dead"] = "sound"
    input_part: Literal["sound", "deaf"] = "sound"
    lost_tap: Literal["none", "heat", "high_heat", "cool", "high_cool", "fan"] = "none"


class ConstantAirflowBlower(Part):
    """The blower; each tap is a 24 V input against ``common``."""

    takes: ClassVar[type[Parameters]] = ConstantAirflowParameters
    terminals: ClassVar[dict[str, Medium]] = {"common": "control", **dict.fromkeys(TAPS, "control")}
    p: ConstantAirflowParameters

    def __init__(self, bench: Bench, name: str, parameters: ConstantAirflowParameters) -> None:
        super().__init__(bench, name, parameters)
        p = parameters
        self.amps = Signal(p.standby_amps if p.motor == "sound" else 0.0)
        self._called = {
            tap: Follower(self.env, self.level(tap), p.input_on, p.input_off, p.input_delay, p.input_off_delay)
            for tap in TAPS
        }
        self._turning = False

    @classmethod
    def elements(cls, name: str, p: ConstantAirflowParameters) -> Iterable[Element]:
        """Each tap's draw."""
        for tap in TAPS:
            yield Wire(f"{name}.input_{tap}", f"{name}.{tap}", f"{name}.common", p.input_ohms)

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:
        """Volts on each tap."""
        return {tap: Probe(f"{name}.{tap}", f"{name}.common") for tap in TAPS}

    def connect(self) -> None:
        """Answer the calls."""
        for follower in self._called.values():
            follower.listen(self._changed)

    def adopt(self) -> None:
        """Called as the voltages say."""
        for follower in self._called.values():
            follower.adopt()

    def wanted(self) -> float:
        """The airflow that is called, in a system that lets all of it through."""
        if self.p.motor == "dead" or self.p.input_part == "deaf":
            return 0.0
        flows = {
            "heat": self.p.heat_airflow,
            "high_heat": self.p.high_heat_airflow,
            "cool": self.p.cool_airflow,
            "high_cool": self.p.high_cool_airflow,
            "fan": self.p.fan_airflow,
        }
        heard = [tap for tap, follower in self._called.items() if follower.value and tap != self.p.lost_tap]
        return max((flows[tap] for tap in heard), default=0.0)

    def _changed(self, _: object = None) -> None:
        turning = self.wanted() > 0
        strained = 1 + self.p.strain * (1 - self._passage())
        if self.p.motor == "sound":
            self.amps.set(self.p.running_amps * strained if turning else self.p.standby_amps)
        if turning == self._turning:
            self._blow()
        else:
            self._turning = turning
            delay = (self.p.run_up if turning else self.p.coast_down) // 2
            self.env.timeout(max(1, delay)).callbacks.append(self._blow)

    def _passage(self) -> float:
        return self.p.passage * self.bench.air.passage

    def _blow(self, _: Any = None) -> None:
        flow = self.wanted() * min(1.0, self._passage() / self.p.keeps_airflow_to)
        if flow != self.bench.air.flow:
            self.bench.air.set_flow(flow)
