"""A rig whose blower answers G after 800 ms, if it answers at all, and that can be lost or interrupt the run."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Sequence
from typing import ClassVar

from rigs.hand_rig import HandRig
from stagecall.errors import RigLostError
from stagecall.model.event import PointBounds, SourceBounds
from stagecall.model.fault import AppliedFault
from stagecall.rigs.contract import Batch, Move
from stagecall.rigs.registry import Opener, RigSpec

ANSWER_MS = 800


class AnsweringRig(HandRig):
    """``blower``: answers, silent, or ``unseen``; ``at_call``: what happens when G is called.

    ``drawn``: the seeds of the machines that were drawn; those of ``bad`` are silent.
    """

    blower = "answers"
    at_call: Callable[[], None] | None = None
    drawn: ClassVar[list[int]] = []
    bad: ClassVar[tuple[int, ...]] = ()

    def __init__(self) -> None:
        super().__init__({} if self.blower == "unseen" else {"blower": "off"})
        self.lost = False
        if self.blower == "unseen":
            self.bounds = SourceBounds(points={"contactor": PointBounds(sensed="coil_volts")})

    def _move(self, move: Move) -> None:
        super()._move(move)
        if move.calls is None:
            return
        state = "on" if "G" in move.calls else "off"
        if self.blower == "answers":
            self.edge(self.now + ANSWER_MS, "blower", state)
        if state == "on" and self.at_call is not None:
            self.at_call()

    def _advance(self, until: int) -> Batch:
        if self.lost:
            raise RigLostError("nothing answers at the end of the cable")
        return super()._advance(until)

    def lose(self) -> None:
        self.lost = True

    def interrupt(self) -> None:
        os.kill(os.getpid(), signal.SIGINT)


def prepare(_spec: RigSpec) -> Opener:
    def open_rig(seed: int, _faults: Sequence[AppliedFault], *, drawn: bool) -> AnsweringRig:
        rig = AnsweringRig()
        if drawn:
            AnsweringRig.drawn.append(seed)
            rig.blower = "silent" if seed in AnsweringRig.bad else rig.blower
        return rig

    return open_rig
