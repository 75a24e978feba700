"""The integrated control of a one-stage gas furnace with hot-surface ignition: its burner and its blower.

The burner's process reads from top to bottom as a heating call does. What goes wrong is raised by ``check`` at the
moment it is noticed, and is dealt with in one place, ``_serve_call``.
"""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from stagecall.plant.board import Acting, Stopped, Waiting
from stagecall.plant.burner import Burner
from stagecall.plant.fan_control import Demand, FanBoard, FanParameters
from stagecall.plant.flame_lead import FlameLead
from stagecall.plant.parameters import Count, FlameCurrent, Parameters, Time
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Follower


class FurnaceParameters(FanParameters, frozen=True, kw_only=True):
    """Timers and counts of a heating call.

    If the pressure switch does not close within ``pressure_switch_proving_time``, the inducer rests for
    ``pressure_switch_rest``. The ignitor stays on for ``ignitor_overlap`` after the valve has opened. ``trials`` to
    light and ``recycles`` after a lost flame are what one call may have; then ignition is locked out for
    ``ignition_lockout_time``, or until W has been off for ``reset_call_off``, or the power. A limit open for longer
    than ``limit_lockout_time`` locks heating out for ``limit_lockout_reset``. Flame is proved at ``flame_detect``, lost
    below ``flame_drop`` for ``flame_response``; a flame seen ``flame_out_time`` after the valve has shut is a fault.

    What only some families do: after a loss of power in a call the blower runs alone for ``power_restore_blower``. A
    retry warms the ignitor for ``retry_warm_up`` (0: as at first), and a board may learn: each light shortens the next
    warm-up by ``ignitor_learns``, each failure lengthens it by as much, within ``ignitor_least`` and ``ignitor_most``.
    More than ``limit_trips_allowed`` limit trips in one call lock heating out. ``draft_loss_counts`` as a recycle, or
    as nothing. A pressure switch closed before the inducer starts is waited for, ignored, or tried to be shaken open by
    30 s of the inducer every 2 min. The limit is watched always or only in a call. W that ends while Y stands is the
    end of a defrost: the blower's heat speed then lasts only ``defrost_blower_off_delay`` (0: as after any call).
    """

    prepurge: Time
    ignitor_warm_up: Time
    ignitor_overlap: Time
    flame_proving_time: Time
    pressure_switch_proving_time: Time
    pressure_switch_rest: Time
    inter_purge: Time
    post_purge: Time
    trials: Count
    recycles: Count
    ignition_lockout_time: Time
    reset_call_off: Time
    limit_lockout_time: Time
    limit_lockout_reset: Time
    heat_blower_on_delay: Time
    heat_blower_on_from: Literal["valve", "flame"]
    heat_blower_off_delay: Time
    fan_during_ignition: Literal["keeps", "drops"]
    flame_detect: FlameCurrent
    flame_drop: FlameCurrent
    flame_prove: Time
    flame_response: Time
    flame_out_time: Time
    power_restore_blower: Time = 0
    retry_warm_up: Time = 0
    ignitor_learns: Time = 0
    ignitor_least: Time = 6_000
    ignitor_most: Time = 54_000
    limit_trips_allowed: Count = 1_000
    draft_loss_counts: Literal["recycle", "nothing"] = "nothing"
    draft_closed_early: Literal["waits", "ignored", "pulses"] = "waits"
    limit_watched: Literal["always", "in_call"] = "always"
    defrost_blower_off_delay: Time = 0


EARLY_DRAFT_WAIT, EARLY_DRAFT_PULSE = 120_000, 30_000
"""What one family does with a pressure switch that is closed before the inducer runs."""


class CallEnded(Stopped):
    """W is gone."""


class LimitOpened(Stopped):
    """The limit string (limit and roll-out) is open."""


class DraftLost(Stopped):
    """The pressure switch has opened."""


class DraftNotProved(Stopped):
    """The pressure switch did not close in time."""


class NoFlame(Stopped):
    """No flame was proved within the trial."""


class FlameLost(Stopped):
    """The flame went out by itself."""


class UnexpectedFlame(Stopped):
    """There is flame with the valve off."""


class FurnaceBoard(FanBoard):
    """Inputs W, Y, G, the limit string and the pressure switch (both read on their load side), and the flame rod."""

    takes: ClassVar[type[Parameters]] = FurnaceParameters
    terminals: ClassVar[dict[str, Medium]] = {
        "R": "control", "C": "control", "W": "control", "Y": "control", "G": "control",
        "limit": "control", "pressure_switch": "control", "flame_rod": "flame",
        "inducer": "drive", "ignitor": "drive", "gas_valve": "drive", "blower": "drive", "speed": "speed",
    }  # fmt: skip
    inputs: ClassVar[tuple[str, ...]] = ("W", "Y", "G", "limit", "pressure_switch")
    p: FurnaceParameters

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.heat = Demand(parameters.heat_blower_on_delay, parameters.heat_blower_off_delay)
        self.demands = (self.fan, self.cool, self.heat)
        self._in_call = self._draft_needed = self._flame_needed = False
        self._valve_shut_at = -parameters.flame_out_time
        self._cleared = False
        self._recovering = False
        self._learnt = 0
        self._trials = self._recycles = self._limit_trips = 0
        self.outputs["gas_valve"].listen(self._valve_moved)

    def connect(self) -> None:
        """Find the flame rod."""
        super().connect()
        leads = self.all_joined("flame_rod", FlameLead)
        current = leads[0][0].flame_current if leads else self.joined("flame_rod", Burner).flame_current
        p = self.p
        self.flame = Follower(self.env, current, p.flame_detect, p.flame_drop, p.flame_prove, p.flame_response)
        self.flame.listen(self.wake)

    def check(self) -> None:
        """What stands against heating, gravest first."""
        super().check()
        if not self._in_call:
            return
        if not self.on("W"):
            raise CallEnded
        if not self.on("limit"):
            raise LimitOpened
        if self._draft_needed and not self.on("pressure_switch"):
            raise DraftLost
        if self._flame_needed and not self.flame.value:
            raise FlameLost
        if self._flame_unexpected():
            raise UnexpectedFlame

    def operate(self, *, rested: bool) -> Acting:
        """Rest until W calls, serve the call, and so on; an open limit has its air with a call or without."""
        self._no_call()
        if not rested:
            yield from self._recover()
        while True:
            self._no_call()
            yield from self.hold(until=lambda: self.on("W") or self._open_limit() or self._flame_unexpected())
            if self._flame_unexpected():
                yield from self._wait_for_flame_to_go()
            elif self._open_limit():
                yield from self._wait_for_limit()
            else:
                yield from self._serve_call()

    def _recover(self) -> Acting:
        """After a loss of power in a call some boards blow the heat out of the exchanger before anything else."""
        yield from self.hold(1_000, until=lambda: self.on("W"))
        if self.on("W") and self.p.power_restore_blower:
            self._recovering = True
            self.wake()
            try:
                yield from self.hold(self.p.power_restore_blower)
            finally:
                self._recovering = False

    def _open_limit(self) -> bool:
        """Whether the limit is open, for a board that watches it now."""
        return not self.on("limit") and (self.p.limit_watched == "always" or self.on("W"))

    def _serve_call(self) -> Acting:
        """One call for heat, from W to the end of it, with whatever happens on the way."""
        self._trials = self._recycles = self._limit_trips = 0
        while True:
            try:
                self._in_call = True
                yield from self._prove_draft()
                yield from self._light()
                yield from self._burn()
            except CallEnded:
                yield from self._shut_down()
                return
            except LimitOpened:
                self._limit_trips += 1
                if self._limit_trips > self.p.limit_trips_allowed:
                    yield from self._lock_out(self.p.limit_lockout_reset)
                    return
                if (yield from self._wait_for_limit()):
                    return
            except DraftNotProved:
                yield from self._let_draft_rest()
            except (NoFlame, FlameLost, DraftLost) as lost:
                if self._was_the_last(lost):
                    yield from self._lock_out(self.p.ignition_lockout_time)
                    return
                yield from self._purge_between(lost)
            except UnexpectedFlame:
                yield from self._wait_for_flame_to_go()

    def _was_the_last(self, lost: Stopped) -> bool:
        """Count what went wrong; whether the call has used up what it may have."""
        if isinstance(lost, NoFlame):
            self._trials += 1
            self._learn(lit=False)
            return self._trials >= self.p.trials
        if isinstance(lost, FlameLost) or self.p.draft_loss_counts == "recycle":
            self._recycles += 1
        return self._recycles > self.p.recycles

    def _prove_draft(self) -> Acting:
        """The pressure switch must be open before the inducer starts, and close once it runs; then purge."""
        inducer = self.outputs["inducer"]
        if not inducer.value:
            if self.p.draft_closed_early != "ignored":
                yield from self._wait_for_no_draft()
            inducer.set(True)
        proving = self.p.pressure_switch_proving_time
        if not (yield from self.hold(proving, until=lambda: self.on("pressure_switch"))):
            raise DraftNotProved
        self._draft_needed = True
        yield from self.hold(self.p.prepurge)

    def _wait_for_no_draft(self) -> Acting:
        """Draft without the inducer is a stuck switch; one family tries to shake it open now and then."""
        pulses = self.p.draft_closed_early == "pulses"
        while not (
            yield from self.hold(EARLY_DRAFT_WAIT if pulses else None, until=lambda: not self.on("pressure_switch"))
        ):
            self.outputs["inducer"].set(True)
            yield from self.hold(EARLY_DRAFT_PULSE)
            self.outputs["inducer"].set(False)

    def _warm_up(self) -> int:
        """How long the ignitor is heated this time, ms."""
        base = self.p.retry_warm_up if self._trials and self.p.retry_warm_up else self.p.ignitor_warm_up
        return base + self._learnt

    def _learn(self, *, lit: bool) -> None:
        """A board that learns shortens the warm-up after a light, and lengthens it after a failure."""
        if not self.p.ignitor_learns:
            return
        learnt = self._learnt + (-self.p.ignitor_learns if lit else self.p.ignitor_learns)
        base = self.p.ignitor_warm_up
        self._learnt = min(max(learnt, self.p.ignitor_least - base), self.p.ignitor_most - base)

    def _light(self) -> Acting:
        """Heat the ignitor, open the valve, and see flame in time."""
        ignitor, valve = self.outputs["ignitor"], self.outputs["gas_valve"]
        ignitor.set(True)
        self.wake()
        yield from self.hold(self._warm_up())
        valve.set(True)
        proved_by = self.now + self.p.flame_proving_time
        if self.p.heat_blower_on_from == "valve":
            self._call_blower(on=True)
        yield from self.hold(min(self.p.ignitor_overlap, self.p.flame_proving_time))
        ignitor.set(False)
        if not (yield from self.hold(proved_by - self.now, until=lambda: self.flame.value)):
            raise NoFlame
        self._learn(lit=True)
        self._trials = 0
        self._flame_needed = True

    def _burn(self) -> Acting:
        """Heat until something ends it."""
        self._call_blower(on=True)
        yield from self.hold(until=lambda: False)

    def _gas_off(self) -> None:
        """Valve and ignitor off at once; the blower's off-delay begins."""
        self.outputs["gas_valve"].set(False)
        self.outputs["ignitor"].set(False)
        self._call_blower(on=False)
        self._in_call = self._draft_needed = self._flame_needed = False
        self.wake()

    def _no_call(self) -> None:
        self._gas_off()
        self.outputs["inducer"].set(False)

    def _shut_down(self) -> Acting:
        """The call is over: gas off, and the inducer clears the exchanger."""
        self._gas_off()
        if self.outputs["inducer"].value:
            yield from self.hold(self.p.post_purge)

    def _purge_between(self, lost: Stopped) -> Acting:
        """Between two trials the inducer goes on alone. Draft that was lost is proved and purged anew without that."""
        self._gas_off()
        if not isinstance(lost, DraftLost):
            yield from self._hold_in_call(self.p.inter_purge)

    def _let_draft_rest(self) -> Acting:
        """Draft that was never proved: the inducer rests, and is tried again while W calls."""
        self._gas_off()
        self.outputs["inducer"].set(False)
        yield from self._hold_in_call(self.p.pressure_switch_rest)

    def _hold_in_call(self, ms: int) -> Acting:
        """Wait, but no longer than W calls with the limit closed."""
        yield from self.hold(ms, until=lambda: not self.on("W") or not self.on("limit"))

    def _wait_for_limit(self) -> Waiting:
        """Gas off, blower and inducer on until the limit closes; open for too long, heating is locked out.

        Returns whether it was.
        """
        self._gas_off()
        self.outputs["inducer"].set(True)
        if (yield from self.hold(self.p.limit_lockout_time, until=lambda: self.on("limit"))):
            return False
        yield from self._stay_locked_out(self.p.limit_lockout_reset)
        return True

    def _wait_for_flame_to_go(self) -> Acting:
        """No heat and the inducer on for as long as there is a flame that should not be."""
        self._gas_off()
        self.outputs["inducer"].set(True)
        yield from self.hold(until=lambda: not self.flame.value)
        yield from self.hold(self.p.post_purge)

    def _valve_moved(self, on: bool) -> None:
        if not on:
            self._valve_shut_at = self.now

    def _flame_unexpected(self) -> bool:
        shut = not self.outputs["gas_valve"].value
        return self.flame.value and shut and self.now >= self._valve_shut_at + self.p.flame_out_time

    def _lock_out(self, ms: int) -> Acting:
        """Ignition lockout: gas off, purge, then nothing until it ends."""
        yield from self._shut_down()
        self.outputs["inducer"].set(False)
        yield from self._stay_locked_out(ms)

    def _stay_locked_out(self, ms: int) -> Acting:
        """Wait for the time, a person, or W to stay away for a while; loss of power ends it too."""
        ends_at = self.now + ms
        self._cleared = False
        while self.now < ends_at and not self._cleared:
            yield from self.hold(ends_at - self.now, until=lambda: self._cleared or not self.on("W"))
            if not self.on("W"):
                away = self.p.reset_call_off
                if not (yield from self.hold(away, until=lambda: self._cleared or self.on("W"))):
                    return

    def clear(self, what: str) -> bool:
        """A person ends a lockout."""
        if what not in ("ignition_lockout", "limit_lockout"):
            return False
        self._cleared = True
        self.wake()
        return True

    def _call_blower(self, *, on: bool) -> None:
        if on != self.heat.called:
            shorter = self.p.defrost_blower_off_delay if self.on("Y") else 0
            self.heat.call(on, self.now, shorter or None)
            self.blower_bell.ring()

    def take_calls(self) -> None:
        """G and Y as on any board; the heat demand is the burner's."""
        super().take_calls()
        if not self.powered.value:
            self.heat.forget()

    def choose_blower(self) -> None:
        """An open limit runs the blower whatever else; a board may drop the fan call while it lights the burner."""
        now = self.now
        heats = self.heat.stands(now)
        cools = self.cool.stands(now)
        fan = self.fan.stands(now) and not (self.p.fan_during_ignition == "drops" and self._lighting() and not heats)
        hot = self._hot()
        self.outputs["speed"].set(heats or hot or not cools)
        self.outputs["blower"].set(self.powered.value and (heats or cools or fan or hot))

    def _lighting(self) -> bool:
        return self.outputs["ignitor"].value or self.outputs["gas_valve"].value

    def _hot(self) -> bool:
        """Whether the exchanger has to be cooled whatever is called."""
        return self._open_limit() or self._recovering
