"""The contract of sources and rigs.

A source delivers events in order and says up to when nothing more will come (*settled-to*). A rig is a source that can
also be asked to move something. Authors of a new one

- must write ``_advance`` and ``snapshot`` (a rig also ``_move``),
- might write ``sample`` (quantities are read only on request), ``clear`` (a model plays the person) and ``close``,
- where a person is the rig's hands and eyes: ``hands``, ``look_for`` and ``survey``, ``words`` and ``hear``.

The base owns ordering, chatter and the settled-to promise.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from typing import Literal

import msgspec

from stagecall.errors import RigLostError
from stagecall.model.asking import ControlAsk
from stagecall.model.event import Event, Snapshot, SourceBounds, TestedOn
from stagecall.model.sequence import Condition, Test
from stagecall.rigs.chatter import ChatterFold

OnOff = Literal["on", "off"]


class Batch(msgspec.Struct):
    """Events in order of their stamps, and the moment up to which all have been delivered (ms)."""

    events: list[Event]
    settled: int


class Move(msgspec.Struct, frozen=True, kw_only=True):
    """What a rig is asked to do. ``calls`` is the complete set of calls; None leaves a thing as it is.

    ``surroundings`` (model only) are ``outdoor_air`` and ``room_air`` in °C, and ``line_voltage`` in volts.
    """

    calls: frozenset[str] | None = None
    power: OnOff | None = None
    open_switch: str | None = None
    restore: str | None = None
    press: Test | None = None
    """Test pins to be joined as the maker says."""
    surroundings: Mapping[str, float] = {}
    control: ControlAsk | None = None
    """What a person is to ask of the installed control, where calls are witnessed; a model does it itself."""

    @property
    def empty(self) -> bool:
        """Nothing at all is asked."""
        return self == Move()


class Look(msgspec.Struct, frozen=True):
    """What to look for: what a step expects, and what must not come."""

    expected: tuple[Condition, ...] = ()
    unwanted: tuple[Condition, ...] = ()


class Source(ABC):
    """Delivers what happens."""

    name: str
    tested_on: TestedOn
    bounds: SourceBounds

    def __init__(self) -> None:
        self._fold = ChatterFold()
        self._lost: RigLostError | None = None

    @property
    @abstractmethod
    def now(self) -> int:
        """The source's clock, ms since the run began."""

    @abstractmethod
    def _advance(self, until: int) -> Batch:
        """What has happened since the last call, by its own stamps.

        A model runs until the first change or *until*; a real source waits for at most 50 ms.
        """

    @abstractmethod
    def snapshot(self) -> Snapshot:
        """Everything that can be seen, as of the settled-to moment."""

    def poll(self, until: int) -> Batch:
        """The next events, at the latest when *until* is settled.

        Raises:
            RigLostError: the source does not answer any more.
        """
        if self._lost is not None:
            lost, self._lost = self._lost, None
            raise lost
        while True:
            due = self._fold.due
            try:
                batch = self._advance(until if due is None else due)
            except RigLostError as lost:
                if not (rest := self._fold.give_up()):
                    raise
                self._lost = lost  # raised with the next poll: what is known is told first
                return Batch(rest, rest[-1].t)
            folded, settled = self._fold.feed(batch.events, batch.settled)
            if folded or settled >= until or not self.runs_ahead:
                return Batch(folded, settled)

    runs_ahead: bool = False
    """True for a model, whose time passes only when it is polled."""

    def sample(self, points: frozenset[str]) -> None:
        """Report these quantities from now on, and no others."""

    def look_for(self, look: Look) -> None:
        """What comes next; for the person, where one looks and listens."""

    def survey(self, states: tuple[Condition, ...]) -> bool:  # noqa: ARG002 - nobody is there to look
        """Have a person see whether these hold; True where a snapshot will tell."""
        return False

    def words(self) -> list[str]:
        """What the source has to say to the person since the last look."""
        return []

    def hear(self, text: str) -> None:
        """The person typed a line that answers no question of the run's."""

    def close(self) -> None:
        """Let go of whatever is held; may be called twice."""


class Rig(Source):
    """A source that makes calls."""

    patience: int = 2_000
    """ms within which what was asked to move is seen to, or the rig is lost."""
    heartbeat: int = 0
    """ms without a poll after which the rig drops its calls by itself; 0 where it never does."""
    hands: bool = False
    """True where a person makes every call, and no relay does."""
    at_control: bool = False
    """Calls are made at the installed control, which stays where it is."""

    kept_as: str = ""
    """Under which name the compressor's starts are kept from run to run; empty where nothing real starts."""

    def not_before(self, move: Move) -> tuple[int, str]:  # noqa: ARG002 - nothing of its own
        """When the rig itself will carry the move out at the earliest, ms, and why not sooner."""
        return 0, ""

    @abstractmethod
    def _move(self, move: Move) -> None:
        """Carry the move out; the edges it causes come with the next poll."""

    def clear(self, what: str) -> None:
        """The model's part of the person: reset what an earlier sequence locked out."""
        raise NotImplementedError(f"{self.name} cannot reset {what}: a person has to")
