"""What changes, who hears of it and what is still to come: signals, followers of a voltage, agendas, bells."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar

import simpy

T = TypeVar("T")


class Signal(Generic[T]):
    """A value that one part determines; listeners are called with it at each change."""

    __slots__ = ("_listeners", "value")

    def __init__(self, value: T) -> None:
        self.value = value
        self._listeners: list[Callable[[T], None]] = []

    def set(self, value: T) -> None:
        """Take this value, and tell it if it is another."""
        if value != self.value:
            self.value = value
            for listener in self._listeners:
                listener(value)

    def listen(self, listener: Callable[[T], None]) -> None:
        """Call *listener* at every change from now on."""
        self._listeners.append(listener)


class Follower(Signal[bool]):
    """A coil's armature or a board's input: it follows a voltage between two thresholds, each way after a time.

    It goes on once the level has stood at or above ``rises`` for ``on_after`` ms, off once it has stood below
    ``falls`` for ``off_after`` ms; both times are at least 1 ms.
    """

    __slots__ = ("_env", "_falls", "_level", "_off_after", "_on_after", "_pending", "_rises")

    def __init__(  # noqa: PLR0913, PLR0917 - two thresholds and two times belong together
        self, env: simpy.Environment, level: Signal[float], rises: float, falls: float, on_after: int, off_after: int
    ) -> None:
        super().__init__(level.value >= rises)
        self._env, self._level, self._rises, self._falls = env, level, rises, falls
        self._on_after, self._off_after = max(1, on_after), max(1, off_after)
        self._pending: simpy.Timeout | None = None
        level.listen(self._moved)

    def adopt(self) -> None:
        """Be at once what the level asks for; only for a plant that has rested."""
        self._pending = None
        self.set(self._wanted(self._level.value))

    def _wanted(self, level: float) -> bool:
        return level >= (self._falls if self.value else self._rises)

    def _moved(self, level: float) -> None:
        if self._wanted(level) == self.value:
            self._pending = None
        elif self._pending is None:
            self._pending = self._env.timeout(self._off_after if self.value else self._on_after)
            self._pending.callbacks.append(self._due)

    def _due(self, timer: Any) -> None:
        if timer is self._pending:
            self._pending = None
            self.set(not self.value)


class Agenda:
    """What is still to come as things now stand; forgotten as a whole where something changes."""

    __slots__ = ("_env", "_page")

    def __init__(self, env: simpy.Environment) -> None:
        self._env = env
        self._page = 0

    def after(self, ms: int, act: Callable[[], object]) -> None:
        """Do that in so many ms (at least 1), unless it is forgotten before."""
        page = self._page

        def due(_: Any) -> None:
            if page == self._page:
                act()

        self._env.timeout(max(1, ms)).callbacks.append(due)

    def forget(self) -> None:
        """Nothing that was to come will come."""
        self._page += 1


class LookAhead:
    """Moves something at the moment that can be foretold for it, and foretells the next.

    *next_change* gives the ms until it next moves as things now stand, None where it stays; *move* moves it.
    """

    __slots__ = ("_agenda", "_move", "_next_change")

    def __init__(
        self, env: simpy.Environment, next_change: Callable[[], int | None], move: Callable[[], object]
    ) -> None:
        self._agenda, self._next_change, self._move = Agenda(env), next_change, move

    def anew(self, _: Any = None) -> None:
        """Something has taken another course: what was foretold is forgotten."""
        self._agenda.forget()
        after = self._next_change()
        if after is not None:
            self._agenda.after(after, self._reached)

    def _reached(self) -> None:
        self._move()
        self.anew()


class Bell:
    """Wakes one process: when something rings it, or at a moment."""

    __slots__ = ("_env", "_event", "_timers", "_until")

    def __init__(self, env: simpy.Environment) -> None:
        self._env = env
        self._event: simpy.Event | None = None
        self._until: int | None = None
        self._timers: set[int] = set()

    def ring(self, _: Any = None) -> None:
        """Wake the process that waits, if one does."""
        if self._event is not None:
            event, self._event = self._event, None
            event.succeed()

    def wait(self, until: int | None = None) -> simpy.Event:
        """What the process yields: it comes at the next ring, or at *until* (ms) at the latest."""
        event = self._event = self._env.event()
        self._until = until
        if until is not None and until not in self._timers:
            self._timers.add(until)
            self._env.timeout(max(0, until - int(self._env.now))).callbacks.append(self._due)
        return event

    def _due(self, _: Any) -> None:
        now = int(self._env.now)
        self._timers = {moment for moment in self._timers if moment > now}
        if self._until is not None and self._until <= now:
            self.ring()
