"""The line-voltage side: contacts that feed, and loads that are fed. It is told in amps, not solved.

A load's ``line`` terminal is live while any feeder joined to it is closed and is itself live; a feeder whose own
``line`` terminal is joined to no other feeder hangs on the mains.
"""

from __future__ import annotations

from stagecall.errors import UsageError
from stagecall.plant.part import Bench, Part
from stagecall.plant.signals import LookAhead, Signal


class Feeder(Part):
    """A contact between ``line`` and ``load``: ``closed`` is its own position, ``live`` whether the load side is."""

    closed: Signal[bool]

    def __init__(self, bench: Bench, name: str, parameters: object) -> None:
        super().__init__(bench, name, parameters)
        self.live = Signal(value=False)
        self._before: list[Feeder] = []

    def connect(self) -> None:
        """Find what feeds it in turn."""
        super().connect()
        self._before = [part for part, end in self.all_joined("line", Feeder) if end == "load"]
        for signal in (self.closed, *(feeder.live for feeder in self._before)):
            signal.listen(self._changed)

    def rest(self) -> None:
        """Live if it is closed."""
        super().rest()
        self._changed()

    def _changed(self, _: object = None) -> None:
        fed = not self._before or any(feeder.live.value for feeder in self._before)
        self.live.set(fed and self.closed.value)


class SensingFeeder(Feeder):
    """A feeder that moves by itself, at a moment that what it senses can foretell."""

    def __init__(self, bench: Bench, name: str, parameters: object) -> None:
        super().__init__(bench, name, parameters)
        self.look_ahead = LookAhead(self.env, self.next_change, lambda: self.closed.set(not self.closed.value))

    def next_change(self) -> int | None:
        """Ms until it next moves as things now stand; None: it stays."""
        raise NotImplementedError


class Load(Part):
    """Whatever runs on line voltage: ``fed`` says whether it has it, ``amps`` what it draws."""

    def __init__(self, bench: Bench, name: str, parameters: object) -> None:
        super().__init__(bench, name, parameters)
        self.fed = Signal(value=False)
        self.amps = Signal(0.0)
        self._feeders: list[Feeder] = []

    def connect(self) -> None:
        """Find what feeds it.

        Raises:
            UsageError: nothing does.
        """
        super().connect()
        self._feeders = [part for part, end in self.all_joined("line", Feeder) if end == "load"]
        if not self._feeders:
            raise UsageError(f"nothing feeds {self.name}.line")
        for feeder in self._feeders:
            feeder.live.listen(self._feed)

    def rest(self) -> None:
        """Fed if a feeder is live."""
        super().rest()
        self._feed()

    def _feed(self, _: object = None) -> None:
        self.fed.set(any(feeder.live.value for feeder in self._feeders))
