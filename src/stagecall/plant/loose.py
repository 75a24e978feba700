"""A loose conductor: it makes contact, loses it for a while, and makes it again."""

from __future__ import annotations

from collections.abc import Callable, Generator
from random import Random
from typing import Any

import simpy

from stagecall.model.fault import AppliedFault
from stagecall.plant.electric import Electric

HOLDS = (20_000, 180_000)
"""Ms of contact, least and most (trade knowledge, no published source found)."""
OPENS = (200, 5_000)
"""Ms without, least and most: from a wire that trembles to one that must be touched (trade knowledge, no published
source found)."""


def is_loose(applied: AppliedFault) -> bool:
    """Whether the fault is a loose conductor."""
    return applied.fault.wire == "loose"


def trembling(
    env: simpy.Environment, random: Random, turn: Callable[[bool], object]
) -> Generator[simpy.Event, Any, None]:
    """What touches only most of the time: *turn* is told when it lets go and when it touches again."""
    while True:
        yield env.timeout(random.randint(*HOLDS))
        turn(False)
        yield env.timeout(random.randint(*OPENS))
        turn(True)


class Loose:
    """One loose conductor in one run; its own stream of the run's *seed* decides when it lets go."""

    def __init__(self, env: simpy.Environment, electric: Electric, conductor: str, seed: int) -> None:
        self._env, self._electric = env, electric
        self._element = f"conductor {conductor}"
        self._random = Random(f"{seed}/{conductor}")
        electric.turn(self._element, on=True)

    def begin(self) -> None:
        """Start to lose contact."""
        self._env.process(trembling(self._env, self._random, lambda on: self._electric.turn(self._element, on)))
