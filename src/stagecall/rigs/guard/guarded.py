"""A rig with the guard in front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from stagecall.errors import CallRefusedError
from stagecall.model.event import Reading, Snapshot
from stagecall.model.sequence import Condition
from stagecall.points import COMPRESSOR_CALLS
from stagecall.rigs.contract import Batch, Look, Move, Rig
from stagecall.rigs.guard.clearance import Challenge, Clearance, Go, Wait
from stagecall.rigs.guard.compressor import MINIMUM_ON, STARTS, CompressorHistory, is_compressor
from stagecall.rigs.guard.order import all_off
from stagecall.rigs.guard.premises import Premises
from stagecall.rigs.guard.rules import RULES, VALVE_CALLS, Situation


class Past(Protocol):
    """The compressor's starts in earlier runs, kept for later ones."""

    @property
    def starts(self) -> Sequence[int]:
        """In ms before this run began: 0 or less."""

    def started(self, ago: int) -> None:
        """It started, so many ms ago."""

    def let_go(self) -> None:
        """Nothing more will be kept."""


class Guarded:
    """A rig with the guard in front. Everything that moves goes through :meth:`move`."""

    def __init__(self, rig: Rig, premises: Premises, past: Past | None = None) -> None:
        self._rig, self._past = rig, past
        self.premises = premises
        self.name, self.tested_on, self.bounds = rig.name, rig.tested_on, rig.bounds
        self.runs_ahead, self.patience, self.hands = rig.runs_ahead, rig.patience, rig.hands
        self.heartbeat = rig.heartbeat
        self.calls: frozenset[str] = frozenset()
        self._powered = True
        self._valve_of_last_run: frozenset[str] = frozenset()
        self._opened: set[str] = set()
        self._cuts = 0
        self.heat_held = False
        """Heat was dropped for safety: no heat call goes through until a person has answered and this is taken back."""
        seen = any(is_compressor(point) for point in rig.bounds.points)
        self.compressor = CompressorHistory(premises.minimum_off, rig.now, seen=seen)
        self.compressor.starts.extend(past.starts if past is not None else ())

    @property
    def now(self) -> int:
        """The rig's clock, ms."""
        return self._rig.now

    def poll(self, until: int) -> Batch:
        """As the rig's own; the guard listens."""
        batch = self._rig.poll(until)
        for event in batch.events:
            if type(event) is Reading:
                continue
            started = self.compressor.hear(event)
            if started and self._past is not None:
                self._past.started(max(0, self.now - event.t))
        return batch

    def snapshot(self) -> Snapshot:
        """As the rig's own; the guard listens."""
        snapshot = self._rig.snapshot()
        self.compressor.hear(snapshot)
        return snapshot

    def sample(self, points: frozenset[str]) -> None:
        """As the rig's own."""
        self._rig.sample(points)

    def look_for(self, look: Look) -> None:
        """As the rig's own."""
        self._rig.look_for(look)

    def survey(self, states: tuple[Condition, ...]) -> bool:
        """As the rig's own."""
        return self._rig.survey(states)

    def words(self) -> list[str]:
        """As the rig's own."""
        return self._rig.words()

    def hear(self, text: str) -> None:
        """As the rig's own."""
        self._rig.hear(text)

    def clear(self, what: str) -> None:
        """As the rig's own: only a model plays the person."""
        self._rig.clear(what)

    def close(self) -> None:
        """As the rig's own."""
        self._rig.close()
        if self._past is not None:
            self._past.let_go()

    def clearance(self, move: Move, challenge: Challenge | None = None) -> Clearance:
        """What stands against this move now."""
        here = Situation(
            premises=self.premises,
            move=move,
            calls=self.calls,
            powered=self._powered,
            opened=frozenset(self._opened),
            compressor_runs=self.compressor.runs,
            challenge=challenge is not None,
            cuts=self._cuts,
            heat_held=self.heat_held,
        )
        for rule in RULES:
            if (refused := rule(here)) is not None:
                return refused
        return self._compressor(here.then, here.powered_then, challenge) or self._rig_waits(move) or Go()

    def _rig_waits(self, move: Move) -> Wait | None:
        until, because = self._rig.not_before(move)
        return Wait(until, because) if self.now < until else None

    def _compressor(self, calls: frozenset[str], powered: bool, challenge: Challenge | None) -> Clearance | None:
        called = bool(calls & COMPRESSOR_CALLS) and powered
        calling = bool(self.calls & COMPRESSOR_CALLS) and self._powered
        first = "Y1" in calls and "Y1" not in self.calls  # beside Y2 too it is what a contactor hangs on
        if called and (first or not calling):
            same_valve = self._valve_of_last_run == calls & VALVE_CALLS
            if challenge == "minimum_off" and same_valve and len(self.compressor.starts) < STARTS:
                return None
            earliest, because = self.compressor.earliest_start()
            if self.now < earliest:
                return Wait(earliest, because)
        dropped = "Y1" in self.calls and "Y1" not in calls
        if calling and (dropped or not called) and self.now < (earliest := self.compressor.earliest_stop()):
            return Wait(earliest, f"the compressor runs for at least {MINIMUM_ON // 1000} s (minimum on)")
        return None

    def move(self, move: Move, challenge: Challenge | None = None) -> None:
        """Carry out what the guard lets through.

        Raises:
            CallRefusedError: the guard lets it not through (now); :meth:`clearance` says why beforehand.
        """
        clearance = self.clearance(move, challenge)
        if not isinstance(clearance, Go):
            raise CallRefusedError(clearance.because)
        self._carry_out(move)

    def _carry_out(self, move: Move) -> None:
        if move.open_switch is not None:
            self._opened.add(move.open_switch)
        if move.restore is not None:
            self._opened.discard(move.restore)
        if move.calls is not None:
            self.calls = move.calls
        if self.calls & COMPRESSOR_CALLS:
            self._valve_of_last_run = self.calls & VALVE_CALLS
        if move.power is not None:
            self._cuts += self._powered and move.power == "off"
            self._powered = move.power == "on"
        self._rig._move(move)  # noqa: SLF001 - the guard is the one caller that may

    def all_off(self) -> list[tuple[Move, int]]:
        """The safe order of switching everything off: moves for :meth:`make_safe`, each with ms to wait after it."""
        return all_off(self.calls, hot_elements=self.premises.hot_elements)

    def make_safe(self, move: Move) -> None:
        """Carry out a move of :meth:`all_off` at once, whatever the minimum on says.

        Raises:
            CallRefusedError: the move would call for more than the blower.
        """
        if move.calls is None or move.calls - self.calls - {"G"}:
            raise CallRefusedError("this move is none that makes safe")
        self._carry_out(move)

    def open_switches(self) -> frozenset[str]:
        """Switches opened in this run and not restored."""
        return frozenset(self._opened)
