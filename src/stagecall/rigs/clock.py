"""The only door to the machine's clock."""

from __future__ import annotations

import time
from datetime import UTC, datetime
from typing import Protocol


class Clock(Protocol):
    """What the program asks of time."""

    def monotonic_ms(self) -> int:
        """Whole milliseconds that only ever grow."""

    def monotonic_us(self) -> int:
        """The same clock in whole microseconds."""

    def sleep_ms(self, ms: int) -> None:
        """Wait."""

    def wall(self) -> datetime:
        """The time of day, with its offset."""


class SystemClock:
    """The machine's own."""

    def monotonic_ms(self) -> int:
        """Whole milliseconds that only ever grow."""
        return time.monotonic_ns() // 1_000_000

    def monotonic_us(self) -> int:
        """The same clock in whole microseconds."""
        return time.monotonic_ns() // 1_000

    def sleep_ms(self, ms: int) -> None:
        """Wait."""
        if ms > 0:
            time.sleep(ms / 1000)

    def wall(self) -> datetime:
        """The time of day, with its offset."""
        return datetime.now(UTC).astimezone()


class HandClock:
    """A clock that a test or a reproducible run turns by hand; sleeping just advances it."""

    def __init__(self, start: datetime, ms: int = 0) -> None:
        self._start, self._ms = start, ms

    def monotonic_ms(self) -> int:
        """Whole milliseconds since the start."""
        return self._ms

    def monotonic_us(self) -> int:
        """The same clock in whole microseconds."""
        return self._ms * 1000

    def sleep_ms(self, ms: int) -> None:
        """Advance."""
        self._ms += max(0, ms)

    def wall(self) -> datetime:
        """The fixed time of day it was given."""
        return self._start
