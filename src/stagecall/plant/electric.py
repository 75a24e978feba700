"""The 24 V side of a running plant: it holds the network's state and says what every coil and input now has.

Whatever moves marks it dirty; it is solved once in a millisecond, after everything else of that millisecond.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import simpy

from stagecall.circuit import Element, Network, State
from stagecall.plant.signals import Signal

REMEMBERED = 4096
"""States whose readings are kept; beyond it the oldest is forgotten."""


class LastOfAll(simpy.Event):
    """Comes in this millisecond, after everything else of it."""

    def __init__(self, env: simpy.Environment) -> None:
        super().__init__(env)
        self._ok, self._value = True, None
        env.schedule(self, priority=9)  # type: ignore[arg-type]


class Probe(NamedTuple):
    """Something measured in the network: volts from node ``a`` to ``b``, or amps through the element ``a``."""

    a: str
    b: str | None = None


class Wiring:
    """A compiled network with its probes; what they read in each state is remembered and shared by all runs."""

    def __init__(self, elements: Sequence[Element], probes: Sequence[Probe]) -> None:
        self.network = Network(elements)
        self._volts = [(self.network.node(a), self.network.node(b)) for a, b in probes if b is not None]
        self._amps = [self.network.index(a) for a, b in probes if b is None]
        self._order = _interleave([probe.b is not None for probe in probes])
        self._readings: dict[State, tuple[float, ...]] = {}

    def readings(self, state: State) -> tuple[float, ...]:
        """What each probe reads in that state."""
        found = self._readings.get(state)
        if found is None:
            solution = self.network.solve(state)
            values = [solution.volts(a, b) for a, b in self._volts] + [solution.amps(i) for i in self._amps]
            if len(self._readings) >= REMEMBERED:
                del self._readings[next(iter(self._readings))]
            found = self._readings[state] = tuple(values[i] for i in self._order)
        return found


def _interleave(is_volts: list[bool]) -> list[int]:
    volts = 0
    amps = sum(is_volts)
    order = []
    for flag in is_volts:
        order.append(volts if flag else amps)
        volts, amps = volts + flag, amps + (not flag)
    return order


class Electric:
    """The state of the network in one run."""

    def __init__(self, env: simpy.Environment, wiring: Wiring) -> None:
        self._env, self._wiring = env, wiring
        self._state = wiring.network.state()
        self._solved: State | None = None
        self._due = False
        self.levels = [Signal(0.0) for _ in wiring.readings(self._state)]

    def turn(self, element: str, on: bool) -> None:
        """Close or open a contact; seal or unseal a coil."""
        self._change(self._state.turned(self._wiring.network.index(element), on))

    def scale(self, source: str, scale: float) -> None:
        """Set a source to that share of its nominal volts."""
        network = self._wiring.network
        self._change(network.scaled(self._state, network.index(source), scale))

    def settle(self) -> bool:
        """Solve at once; False where nothing had changed since the last solution."""
        self._due = False
        if self._state == self._solved:
            return False
        self._solved = self._state
        for level, value in zip(self.levels, self._wiring.readings(self._state), strict=True):
            if value != level.value:
                level.set(value)
        return True

    def _change(self, state: State) -> None:
        self._state = state
        if not self._due:
            self._due = True
            LastOfAll(self._env).callbacks.append(self._solve)

    def _solve(self, _: Any) -> None:
        if self._due:
            self.settle()
