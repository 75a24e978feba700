"""What every part of a machine is: a kind, parameters, terminals, and what it does when the plant runs.

A terminal belongs to a medium. Terminals of ``control`` are nodes of the 24 V network; the others (line voltage, gas,
draft, heat …) tell which parts act on each other, and are joined in a profile's ``wiring`` in the same way.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cached_property
from random import Random
from typing import Any, ClassVar, Literal, TypeVar

import simpy

from stagecall.circuit import Element
from stagecall.errors import UsageError
from stagecall.plant.air import Air
from stagecall.plant.electric import Electric, Probe
from stagecall.plant.parameters import Parameters
from stagecall.plant.signals import Signal

Medium = Literal[
    "control", "line", "drive", "speed", "capacitor", "shaft", "gas", "glow", "flame", "heat", "draft", "refrigerant"
]


HALF = 0.5
"""How often what works now and then does work (trade knowledge, no published source found)."""


class Bench:
    """What the parts of one running plant share."""

    def __init__(  # noqa: PLR0913, PLR0917 - made in one place only
        self,
        env: simpy.Environment,
        electric: Electric,
        air: Air,
        joined: Mapping[str, tuple[str, ...]],
        probes: Mapping[str, int],
        seed: int,
    ) -> None:
        self.env, self.electric, self.air = env, electric, air
        self.joined, self.probes, self.seed = joined, probes, seed
        self.parts: dict[str, Part] = {}


P = TypeVar("P", bound="Part")


class Part:
    """A part of a machine in one running plant.

    The life of a part: made, then ``connect`` (find the others it acts with), ``rest`` (its own state after a long
    rest), ``adopt`` (what the voltages of a rested plant make of it), ``begin`` (start what runs by itself).
    """

    takes: ClassVar[type[Parameters]] = Parameters
    terminals: ClassVar[dict[str, Medium]] = {}

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        self.bench, self.env, self.name, self.p = bench, bench.env, name, parameters

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:  # noqa: ARG003 - what a kind may override
        """What the part is in the 24 V network; element and node names begin with the part's full *name*."""
        return ()

    @classmethod
    def probes(cls, name: str) -> dict[str, Probe]:  # noqa: ARG003 - what a kind may override
        """What the part itself measures in the network, by a name of its own."""
        return {}

    def connect(self) -> None:
        """Find the parts it acts with."""

    def rest(self) -> None:
        """Be as after a long rest."""

    def adopt(self) -> None:
        """Be at once what the voltages now ask for."""

    def begin(self) -> None:
        """Start the processes."""

    def reading(self, name: str) -> float | None:  # noqa: ARG002 - what a kind may override
        """What an instrument on the part itself reads now of the quantity *name*, in SI; None where none fits it."""
        return None

    def clear(self, what: str) -> bool:  # noqa: ARG002 - what a kind may override
        """Reset *what* (a lockout, or the part by its own name); False where there is nothing of that name."""
        return False

    def press(self, what: str) -> bool:  # noqa: ARG002 - what a kind may override
        """Have its test pins joined; False where it has no test *what*."""
        return False

    @property
    def now(self) -> int:
        """Ms since the plant began."""
        return int(self.env.now)

    @cached_property
    def random(self) -> Random:
        """This part's own stream, for what differs from one time to the next."""
        return Random(f"{self.bench.seed}/{self.name}")

    @cached_property
    def _chance(self) -> Random:
        return Random(f"{self.bench.seed}/{self.name}/now and then")

    def works_this_time(self) -> bool:
        """For what works only now and then: at :data:`HALF` of the times, by a stream of its own."""
        return self._chance.random() < HALF

    def level(self, probe: str) -> Signal[float]:
        """What one of its own probes reads."""
        return self.bench.electric.levels[self.bench.probes[f"{self.name}:{probe}"]]

    def all_joined(self, terminal: str, kind: type[P]) -> list[tuple[P, str]]:
        """The parts of that *kind* joined to a terminal, each with its own terminal's name."""
        found = []
        for node in self.bench.joined.get(f"{self.name}.{terminal}", ()):
            owner, _, end = node.rpartition(".")
            part = self.bench.parts.get(owner)
            if isinstance(part, kind):
                found.append((part, end))
        return found

    def joined(self, terminal: str, kind: type[P]) -> P:
        """The one part of that *kind* joined to a terminal.

        Raises:
            UsageError: none is joined to it.
        """
        found = self.all_joined(terminal, kind)
        if not found:
            raise UsageError(f"{self.name}.{terminal} is joined to no {kind.__name__}")
        return found[0][0]
