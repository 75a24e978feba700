"""The one small loop that turns a session: ask the script, serve its want, listen to the person."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, Protocol

from stagecall.errors import RigLostError
from stagecall.model.event import AnyLine
from stagecall.rigs.clock import Clock
from stagecall.rigs.contract import Batch
from stagecall.rigs.guard import Guarded
from stagecall.run.session import Session
from stagecall.run.wants import (
    Act,
    Alarm,
    AllOff,
    Clear,
    Earliest,
    HoldHeat,
    Interrupted,
    Listen,
    LookFor,
    MakeSafe,
    Poll,
    Reset,
    Sample,
    Say,
    Snap,
    Survey,
    Want,
)
from stagecall.units import show_time

LISTEN_EVERY = 50
"""ms of real time between two looks at the rig and the person."""


class Console(Protocol):
    """The person at the screen, as far as a run needs one."""

    def show(self, line: AnyLine) -> None:
        """A line was written."""

    def typed(self) -> list[str]:
        """Whole lines typed since the last look; never waits."""

    def interrupted(self) -> bool:
        """Whether the person broke the run off (Ctrl-C); True once for each time."""

    def tell(self, text: str) -> None:
        """Say something to the person."""

    def alarm(self, text: str) -> None:
        """Fill the screen with an order."""


class Silent:
    """Nobody is there."""

    def show(self, line: AnyLine) -> None:
        """Nobody looks."""

    def typed(self) -> list[str]:
        """Nobody types."""
        return []

    def interrupted(self) -> bool:
        """Nobody interrupts."""
        return False

    def tell(self, text: str) -> None:
        """Nobody reads."""

    def alarm(self, text: str) -> None:
        """Nobody reads."""


class _Pace:
    """How far equipment time may have come by now."""

    def __init__(self, clock: Clock, pace: float) -> None:
        self._clock, self._pace = clock, pace
        self._since = clock.monotonic_ms()
        self._base = 0.0

    def limit(self) -> int:
        return int(self._base + (self._clock.monotonic_ms() - self._since) * self._pace)

    def stand_still(self) -> None:
        """Equipment time has come as far as this, and the time since then does not count."""
        self._base = float(self.limit())
        self._clock.sleep_ms(LISTEN_EVERY)
        self._since = self._clock.monotonic_ms()


def turn(session: Session, rig: Guarded, console: Console, *, clock: Clock, pace: float | None = None) -> None:
    """Run a session to its end. *pace*: equipment time against real time (None: as fast as it goes).

    Raises:
        LogWriteError: the log can no longer be written; everything has been called off.
    """
    script = session.script()
    paced = _Pace(clock, pace) if pace else None
    answer: Any = None
    trouble: Exception | None = None
    try:
        while True:
            began = clock.monotonic_ms() if rig.heartbeat else 0
            want = script.throw(trouble) if trouble is not None else script.send(answer)
            trouble = answer = None
            if rig.heartbeat and (stalled := clock.monotonic_ms() - began) >= rig.heartbeat and not session.lost:
                trouble = RigLostError(_stalled(stalled, rig.heartbeat))
                continue
            if console.interrupted() and (rig.hands or not session.interrupted):
                trouble = Interrupted()
                continue
            for text in console.typed():
                if not session.answer(text):
                    rig.hear(text)
            try:
                answer = _serve(want, rig, console, clock, None if session.interrupted else paced)
            except RigLostError as raised:
                trouble = raised
            for text in rig.words():
                console.tell(text)
    except StopIteration:
        return
    except BaseException:
        _all_off(rig)
        raise
    finally:
        rig.close()


def _stalled(stalled: int, heartbeat: int) -> str:
    return (
        f"writing the log took {show_time(stalled)}, and the rig drops all calls after {show_time(heartbeat)} without "
        "a poll"
    )


def _all_off(rig: Guarded) -> None:
    """The safe order at once: there is no log any more to wait for."""
    with suppress(RigLostError):
        for move, _ in rig.all_off():
            rig.make_safe(move)


def _serve(want: Want, rig: Guarded, console: Console, clock: Clock, paced: _Pace | None) -> Any:  # noqa: PLR0911 - a table
    match want:
        case Poll(until=until):
            return rig.poll(until) if paced is None else _poll_paced(rig, until, clock, paced)
        case Listen(until=until):
            return _listen(rig, until, clock, paced)
        case Clear(move=move, challenge=challenge):
            return rig.clearance(move, challenge)
        case Act(move=move, challenge=challenge):
            rig.move(move, challenge)
            return rig.patience
        case Sample(points=points):
            return rig.sample(points)
        case Earliest(starts=starts):
            return rig.compressor.earliest_start(starts)
        case Snap():
            return rig.snapshot()
        case Reset(what=what):
            return rig.clear(what)
        case AllOff():
            return rig.all_off()
        case MakeSafe(move=move):
            rig.make_safe(move)
            return rig.patience
        case _:
            return _person(want, rig, console)


def _person(want: LookFor | Survey | Say | Alarm | HoldHeat, rig: Guarded, console: Console) -> int | None:
    """What is for a person to know or to look at."""
    match want:
        case LookFor(look=look):
            if rig.hands:
                rig.look_for(look())
        case Survey(states=states):
            return rig.patience if rig.hands and rig.survey(states()) else 0
        case Say(text=text):
            console.tell(text)
        case Alarm(text=text):
            console.alarm(text)
        case HoldHeat(held=held):
            rig.heat_held = held
    return None


def _poll_paced(rig: Guarded, until: int, clock: Clock, paced: _Pace) -> Batch:
    batch = rig.poll(min(until, paced.limit()))
    if not batch.events and batch.settled < until:
        clock.sleep_ms(LISTEN_EVERY)
    return batch


def _listen(rig: Guarded, until: int, clock: Clock, paced: _Pace | None) -> Batch:
    """Wait for the person's answer; a model's time stands still meanwhile."""
    if not rig.runs_ahead:
        return rig.poll(until)
    if paced is None:
        clock.sleep_ms(LISTEN_EVERY)
    else:
        paced.stand_still()
    return Batch([], 0)
