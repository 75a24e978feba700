"""Motors and elements on line voltage: inducer, ignitor, blower, outdoor fan, and the run capacitor."""

from __future__ import annotations

from collections.abc import Callable
from typing import ClassVar, Literal

from stagecall.plant.line import Load
from stagecall.plant.parameters import Airflow, Amps, Capacitance, Parameters, Pressure, Share, Time
from stagecall.plant.part import Bench, Medium, Part
from stagecall.plant.relays import Driver
from stagecall.plant.signals import Agenda, Signal


class InducerParameters(Parameters, frozen=True, kw_only=True):
    """``draft`` is what it pulls at full speed; it gains and loses it evenly over ``run_up`` and ``coast_down``."""

    running_amps: Amps
    draft: Pressure
    run_up: Time
    coast_down: Time
    motor: Literal["sound", "dead"] = "sound"


class Inducer(Load):
    """The draft inducer."""

    takes: ClassVar[type[Parameters]] = InducerParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "draft": "draft"}
    p: InducerParameters

    def __init__(self, bench: Bench, name: str, parameters: InducerParameters) -> None:
        super().__init__(bench, name, parameters)
        self._then, self._since, self._end = 0.0, 0, 0.0
        self._listeners: list[Callable[[], None]] = []
        self.turning = Signal(value=False)

    def connect(self) -> None:
        """Turn when fed."""
        super().connect()
        self.fed.listen(self._run)

    def changed(self, listener: Callable[[], None]) -> None:
        """Call *listener* at each change of what the draft moves towards."""
        self._listeners.append(listener)

    def _run(self, _: object = None) -> None:
        turning = self.fed.value and self.p.motor == "sound"
        self.amps.set(self.p.running_amps if turning else 0.0)
        self.turning.set(turning)
        self.heads_for(self.full_draft() if turning else 0.0)

    def full_draft(self) -> float:
        """Pascal that it pulls when it has run up."""
        return self.p.draft

    def heads_for(self, end: float) -> None:
        """The draft now moves towards *end*, Pa."""
        self._then, self._since, self._end = self.draft(), self.now, end
        for listener in self._listeners:
            listener()

    def draft(self) -> float:
        """Pascal now."""
        now = self._then + self._rate() * (self.now - self._since)
        return min(self._end, now) if self._end >= self._then else max(self._end, now)

    def reaches(self, level: float, *, rising: bool) -> int | None:
        """Ms until the draft is at *level* or beyond it, the way asked for; None where it will not be."""
        now = self.draft()
        if (self._end < level) if rising else (self._end >= level):
            return None
        if (now >= level) if rising else (now < level):
            return 1
        return max(1, round((level - now) / self._rate()))

    def _rate(self) -> float:
        if self._end >= self._then:
            return self.p.draft / max(1, self.p.run_up)
        return -self.p.draft / max(1, self.p.coast_down)


class IgnitorParameters(Parameters, frozen=True, kw_only=True):
    """``heat_up``: from power until it lights gas; it stays hot enough a second or two.

    A ``cracked`` element makes contact at half of the times that it is powered, by the run's seed.
    """

    running_amps: Amps
    heat_up: Time
    element: Literal["sound", "broken", "cracked"] = "sound"


class Ignitor(Load):
    """A hot-surface ignitor."""

    takes: ClassVar[type[Parameters]] = IgnitorParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "glow": "glow"}
    p: IgnitorParameters

    def __init__(self, bench: Bench, name: str, parameters: IgnitorParameters) -> None:
        super().__init__(bench, name, parameters)
        self.hot = Signal(value=False)
        self._agenda = Agenda(self.env)

    def connect(self) -> None:
        """Draw when fed."""
        super().connect()
        self.fed.listen(self._feed_element)

    def _feed_element(self, fed: bool) -> None:
        sound = fed and (self.p.element == "sound" or (self.p.element == "cracked" and self.works_this_time()))
        self.amps.set(self.p.running_amps if sound else 0.0)
        self._agenda.forget()
        if sound:
            self._agenda.after(self.p.heat_up, lambda: self.hot.set(True))
        else:
            self.hot.set(False)


class BlowerParameters(Parameters, frozen=True, kw_only=True):
    """``passage``: share of the airflow that a clean system lets through (a dirty filter lets through less).

    A motor with dry bearings runs hot: its overload opens after ``overload_after`` of running (0: never), and closes
    again after ``overload_reset_time`` (trade knowledge, no published source found).
    """

    running_amps: Amps
    heat_airflow: Airflow
    cool_airflow: Airflow
    run_up: Time
    coast_down: Time
    passage: Share = 1.0
    motor: Literal["sound", "dead"] = "sound"
    overload_after: Time = 0
    overload_reset_time: Time = 1_200_000


class Blower(Load):
    """The indoor blower. Its stream is full (or gone) after half the time it takes to run up (or coast down)."""

    takes: ClassVar[type[Parameters]] = BlowerParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "speed": "speed"}
    p: BlowerParameters

    def connect(self) -> None:
        """Turn when fed, at the speed of the tap the board chooses; without a choice, at cooling speed."""
        super().connect()
        self._heat_speed = Signal(value=False)
        for board, output in self.all_joined("speed", Driver):
            self._heat_speed = board.outputs[output]
        self._heat_speed.listen(self._changed)
        self.fed.listen(self._changed)
        self._turning = self._overload_open = False
        self._agenda = Agenda(self.env)

    def _overload(self, *, opens: bool) -> None:
        self._overload_open = opens
        self._changed()
        if opens:
            self._agenda.after(self.p.overload_reset_time, lambda: self._overload(opens=False))

    def _changed(self, _: object = None) -> None:
        turning = self.fed.value and self.p.motor == "sound" and not self._overload_open
        self.amps.set(self.p.running_amps if turning else 0.0)
        if turning == self._turning:
            self._blow()
        else:
            self._turning = turning
            if self.p.overload_after and not self._overload_open:
                self._agenda.forget()
                if turning:
                    self._agenda.after(self.p.overload_after, lambda: self._overload(opens=True))
            delay = (self.p.run_up if turning else self.p.coast_down) // 2
            self.env.timeout(max(1, delay)).callbacks.append(self._blow)

    def _blow(self, _: object = None) -> None:
        speed = self.p.heat_airflow if self._heat_speed.value else self.p.cool_airflow
        flow = speed * self.p.passage * self.bench.air.passage if self._turning else 0.0
        if flow != self.bench.air.flow:
            self.bench.air.set_flow(flow)


class RunCapacitorParameters(Parameters, frozen=True, kw_only=True):
    """The marks on its can, and what share of each is left in its compressor and fan sections."""

    compressor_rated: Capacitance
    fan_rated: Capacitance
    compressor_share: Share = 1.0
    fan_share: Share = 1.0


class RunCapacitor(Part):
    """A dual run capacitor; ``compressor`` and ``fan`` are joined to the motors' ``capacitor``."""

    takes: ClassVar[type[Parameters]] = RunCapacitorParameters
    terminals: ClassVar[dict[str, Medium]] = {"compressor": "capacitor", "fan": "capacitor"}
    p: RunCapacitorParameters

    def connect(self) -> None:
        """Find the motors of each section."""
        self._motors = {
            section: [motor for motor, _ in self.all_joined(section, InductionMotor)] for section in self.terminals
        }

    def share(self, section: str) -> float:
        """What is left of that section."""
        return self.p.compressor_share if section == "compressor" else self.p.fan_share

    def reading(self, name: str) -> float:
        """Farad, from the amps through that section and the volts across it; none where its motor draws nothing."""
        section = name.removesuffix("_capacitor")
        if not any(motor.amps.value for motor in self._motors[section]):
            return 0.0
        return self.share(section) * (self.p.compressor_rated if section == "compressor" else self.p.fan_rated)


SINGLE_PHASED = 0.87
"""Share of its locked-rotor amps that a motor of three phases draws on two of them: half the root of three."""


class InductionMotorParameters(Parameters, frozen=True, kw_only=True):
    """A motor with a run capacitor and an overload. ``running_amps`` hold at its rated load.

    It starts if at least ``start_share`` of the capacitance is left. Running with less than all of it, it draws more,
    by ``capacitor_weight`` of the missing share. The overload opens after ``overload_trip_time`` at locked-rotor amps,
    after longer by the square of the current at less, never at or below ``overload_amps``; it closes again after
    ``overload_reset_time``. One that is ``open`` was opened before the run, and closes so long after its begin.

    With one of its ``legs`` lost a motor of one phase draws nothing; one of three hums at ``SINGLE_PHASED`` of its
    locked-rotor amps. A motor that ``starts`` now and then stays locked at half of its starts, by the run's seed.
    """

    running_amps: Amps
    locked_rotor_amps: Amps
    start_time: Time
    start_share: Share
    capacitor_weight: Share
    overload_amps: Amps
    overload_trip_time: Time
    overload_reset_time: Time
    motor: Literal["sound", "dead", "locked"] = "sound"
    overload: Literal["closed", "open"] = "closed"
    phases: Literal["one", "three"] = "one"
    legs: Literal["all", "one_lost"] = "all"
    starts: Literal["always", "now_and_then"] = "always"


class InductionMotor(Load):
    """A compressor's or fan's motor."""

    takes: ClassVar[type[Parameters]] = InductionMotorParameters
    terminals: ClassVar[dict[str, Medium]] = {"line": "line", "capacitor": "capacitor", "shaft": "shaft"}
    p: InductionMotorParameters

    def __init__(self, bench: Bench, name: str, parameters: InductionMotorParameters) -> None:
        super().__init__(bench, name, parameters)
        self.turning = Signal(value=False)
        self._overload_open = parameters.overload == "open"
        self._labour = 1.0
        self._agenda = Agenda(self.env)

    def labours(self, share: float) -> None:
        """What it drives now asks for that share of its rated running amps."""
        self._labour = share
        if self.turning.value:
            self._agenda.forget()
            self._draw()
            self._heat_overload()

    def connect(self) -> None:
        """Run when fed."""
        super().connect()
        self._capacitor = 1.0
        for capacitor, section in self.all_joined("capacitor", RunCapacitor):
            self._capacitor = capacitor.share(section)
        self.fed.listen(self._changed)

    def _changed(self, _: object = None) -> None:
        self._agenda.forget()
        self.turning.set(False)
        if not self.fed.value or self._overload_open or self._without_current():
            self.amps.set(0.0)
            return
        self.amps.set(self.p.locked_rotor_amps * (SINGLE_PHASED if self.p.legs == "one_lost" else 1.0))
        if self._cannot_turn():
            self._heat_overload()
        else:
            self._agenda.after(self.p.start_time, self._run)

    def _without_current(self) -> bool:
        return self.p.motor == "dead" or (self.p.legs == "one_lost" and self.p.phases == "one")

    def _cannot_turn(self) -> bool:
        stays = self.p.starts == "now_and_then" and not self.works_this_time()
        locked = self.p.motor == "locked" or self.p.legs == "one_lost"
        return stays or locked or self._capacitor < self.p.start_share

    def begin(self) -> None:
        """An overload that was open closes in its time."""
        super().begin()
        if self._overload_open:
            self.env.timeout(self.p.overload_reset_time).callbacks.append(self._reset)

    def _run(self) -> None:
        self._draw()
        self._heat_overload()
        self.turning.set(True)

    def _draw(self) -> None:
        self.amps.set(self.p.running_amps * self._labour * (1 + self.p.capacitor_weight * (1 - self._capacitor)))

    def _heat_overload(self) -> None:
        amps, holds, locked = self.amps.value, self.p.overload_amps, self.p.locked_rotor_amps
        if amps > holds:
            ratio = (locked**2 - holds**2) / (amps**2 - holds**2)
            self._agenda.after(round(self.p.overload_trip_time * ratio), self._trip)

    def _trip(self) -> None:
        self._overload_open = True
        self._changed()
        self.env.timeout(self.p.overload_reset_time).callbacks.append(self._reset)

    def _reset(self, _: object) -> None:
        self._overload_open = False
        self._changed()
