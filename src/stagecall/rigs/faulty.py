"""A rig with named troubles around any other: for tests, and to show what a run does when its rig fails."""

from __future__ import annotations

from typing import Literal

from stagecall.errors import RigLostError
from stagecall.model.event import Event, Gap, Snapshot
from stagecall.rigs.contract import Batch, Move, Rig

Trouble = Literal["lost", "deaf", "gap"]


class FaultyRig(Rig):
    """From the moment ``at`` (ms) on:

    - ``lost``: nothing answers any more,
    - ``deaf``: it answers, but no relay moves,
    - ``gap``: for ``length`` ms no event gets through; then a gap and a snapshot are delivered.
    """  # noqa: D415 - ends in a list

    name = "faulty"

    def __init__(self, rig: Rig, trouble: Trouble, at: int, length: int = 5_000) -> None:
        super().__init__()
        self._rig, self._trouble, self._at, self._end = rig, trouble, at, at + length
        self._told = False
        self.tested_on, self.bounds, self.runs_ahead = rig.tested_on, rig.bounds, rig.runs_ahead

    @property
    def now(self) -> int:
        """The wrapped rig's clock."""
        return self._rig.now

    def _troubled(self, trouble: Trouble) -> bool:
        return self._trouble == trouble and self._rig.now >= self._at

    def _advance(self, until: int) -> Batch:
        if self._troubled("lost"):
            raise RigLostError("no answer")
        batch = self._rig.poll(until)
        if not self._troubled("gap") or self._told:
            return batch
        while self.runs_ahead and batch.settled < self._end:
            batch = self._rig.poll(self._end)
        if batch.settled < self._end:
            return Batch([], min(batch.settled, self._at))
        self._told = True
        snapshot = self._rig.snapshot()
        lost: list[Event] = [Gap(t=snapshot.t, e=self._at, because="events were lost"), snapshot]
        return Batch(lost, snapshot.t)

    def snapshot(self) -> Snapshot:
        """The wrapped rig's."""
        return self._rig.snapshot()

    def sample(self, points: frozenset[str]) -> None:
        """The wrapped rig's."""
        self._rig.sample(points)

    def _move(self, move: Move) -> None:
        if self._troubled("lost"):
            raise RigLostError("no answer")
        if not self._troubled("deaf"):
            self._rig._move(move)  # noqa: SLF001 - it stands in for the rig

    def clear(self, what: str) -> None:
        """The wrapped rig's."""
        self._rig.clear(what)

    def close(self) -> None:
        """The wrapped rig's."""
        self._rig.close()
