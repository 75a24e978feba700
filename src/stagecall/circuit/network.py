"""The 24 V network as a pure function of its state: one complex nodal solution, remembered.

A network is compiled once from its elements and may be shared by any number of runs. Its state is a small hashable
value, so that a solution is computed once and found again ever after.
"""

from __future__ import annotations

import cmath
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from stagecall.circuit.elements import EARTH, Coil, Contact, Element, Source, Wire
from stagecall.circuit.elimination import Elimination, elimination

LEAKAGE = 1e-9
"""Siemens from every node to earth: 1 gigaohm, the order of sound cable insulation in a dry house.

It gives every floating island (a dry contact, a transformer joined to nothing, what hangs on a lost common) one
definite potential. At 30 V it carries 30 nA, a ten-thousandth of the smallest current that matters here (a leaking
solid-state output, some 0.3 mA); and it stands well clear of the rounding of the stiffest joint allowed.
"""

LEAST_OHMS = 1e-4
"""An impedance smaller than this, but not 0, is refused: its rounding would rival the leakage."""

REMEMBERED = 4096
"""Solutions kept by each network: some 10 MB at 60 nodes. Beyond it the oldest is forgotten."""


class State(NamedTuple):
    """What the moving parts do now."""

    on: int
    """Bit ``index(name)`` is set where a contact is closed or a coil sealed."""
    scales: tuple[float, ...]
    """One for each source, in the order of the elements."""

    def turned(self, index: int, on: bool) -> State:
        """This state, but with that contact closed (opened) or that coil sealed (unsealed)."""
        return State(self.on | 1 << index if on else self.on & ~(1 << index), self.scales)


class Network:
    """A netlist, compiled.

    Raises:
        ValueError: two elements bear one name, or an impedance is infinite, too small or of negative resistance.
    """

    def __init__(self, elements: Iterable[Element]) -> None:
        self.elements = tuple(elements)
        self._index = {element.name: i for i, element in enumerate(self.elements)}
        if len(self._index) < len(self.elements):
            names = [element.name for element in self.elements]
            raise ValueError(f"two elements are called {next(name for name in names if names.count(name) > 1)!r}")
        self._sources = [(i, element) for i, element in enumerate(self.elements) if isinstance(element, Source)]
        self._scale_of = {index: position for position, (index, _) in enumerate(self._sources)}
        self._node, self._nodes = _number_nodes(self.elements)
        self.ends = tuple([(self._node[element.a], self._node[element.b]) for element in self.elements])
        self._admittances = [_admittances(element) for element in self.elements]
        self._compiled: _Compiled | None = None
        self._remembered: dict[State, Solution] = {}

    def index(self, name: str) -> int:
        """The handle of an element: its bit in a state, and quicker than its name in ``amps``.

        Raises:
            KeyError: no element is called that.
        """
        return self._index[name]

    def node(self, name: str) -> int:
        """The handle of a node, quicker than its name in ``volts``; joined nodes share one.

        Raises:
            KeyError: no element ends there.
        """
        return self._node[name]

    def state(self, on: Iterable[str] = (), scales: Mapping[str, float] | None = None) -> State:
        """Those contacts closed and coils sealed, all others open and unsealed; sources at 1 where nothing is said."""
        bits = 0
        for name in on:
            bits |= 1 << self._index[name]
        given = scales or {}
        return State(bits, tuple([given.get(source.name, 1.0) for _, source in self._sources]))

    def scaled(self, state: State, index: int, scale: float) -> State:
        """That state, but with the source of that handle at *scale* of its nominal volts."""
        position = self._scale_of[index]
        return State(state.on, (*state.scales[:position], scale, *state.scales[position + 1 :]))

    def solve(self, state: State) -> Solution:
        """The voltages and currents in that state."""
        found = self._remembered.get(state)
        if found is None:
            if len(self._remembered) >= REMEMBERED:
                del self._remembered[next(iter(self._remembered))]
            found = self._remembered[state] = Solution(self, state, self._node_volts(state))
        return found

    def admittance(self, index: int, state: State) -> complex:
        """Siemens of an element in that state."""
        off, on = self._admittances[index]
        if index in self._scale_of:
            return on if state.scales[self._scale_of[index]] else off
        return on if state.on >> index & 1 else off

    def injection(self, index: int, state: State) -> complex:
        """Amps that an element would drive out of its end ``a`` into a short: 0 unless it is a live source."""
        element = self.elements[index]
        if not isinstance(element, Source):
            return 0j
        return element.volts * state.scales[self._scale_of[index]] * self._admittances[index][1]

    def _node_volts(self, state: State) -> list[complex]:
        if self._compiled is None:
            self._compiled = self._compile()
        plan, at_rest, moves = self._compiled
        matrix = at_rest.copy()
        on = state.on
        for index, change, a, b, between in moves:
            if on >> index & 1:
                matrix[a] += change
                matrix[b] += change
                matrix[between] -= change
        volts = [0j] * self._nodes
        for index, _ in self._sources:
            a, b = self.ends[index]
            if a != b:
                siemens, injection = self.admittance(index, state), self.injection(index, state)
                matrix[a] += siemens
                matrix[b] += siemens
                matrix[plan.slot(a, b)] -= siemens
                volts[a] += injection
                volts[b] -= injection
        plan.solve(matrix, volts)
        return volts

    def _compile(self) -> _Compiled:
        plan = elimination(self._nodes, self.ends)
        at_rest = [LEAKAGE + 0j] * self._nodes + [0j] * (plan.size - self._nodes)
        moves = []
        for index, (element, (a, b)) in enumerate(zip(self.elements, self.ends, strict=True)):
            if a == b or isinstance(element, Source):
                continue
            off, on = self._admittances[index]
            between = plan.slot(a, b)
            at_rest[a] += off
            at_rest[b] += off
            at_rest[between] -= off
            if off != on:
                moves.append((index, on - off, a, b, between))
        return _Compiled(plan, at_rest, moves)


class _Compiled(NamedTuple):
    plan: Elimination
    at_rest: list[complex]
    moves: list[tuple[int, complex, int, int, int]]
    """Of each contact and coil: index, siemens gained when on, and the slots of its ends and of the entry between."""


class Solution:
    """The voltages and currents of one network in one state. Magnitudes are rms; handles are quicker than names."""

    __slots__ = ("_network", "_state", "_volts")

    def __init__(self, network: Network, state: State, volts: list[complex]) -> None:
        self._network, self._state, self._volts = network, state, volts

    def volts_phasor(self, a: str | int, b: str | int = EARTH) -> complex:
        """Volts at *a* against *b*.

        Raises:
            KeyError: no element ends at a node called that.
        """
        if isinstance(a, str):
            a = self._network.node(a)
        if isinstance(b, str):
            b = self._network.node(b)
        return self._volts[a] - self._volts[b]

    def volts(self, a: str | int, b: str | int = EARTH) -> float:
        """Volts between two nodes: what a meter without a burden of its own reads."""
        return abs(self.volts_phasor(a, b))

    def amps_phasor(self, element: str | int) -> complex:
        """Amps through an element from ``a`` to ``b``; of a source, amps delivered out of ``a``.

        Raises:
            KeyError: no element is called that.
            ValueError: a wire of 0 ohms, whose current is not known.
        """
        network = self._network
        index = network.index(element) if isinstance(element, str) else element
        found = network.elements[index]
        a, b = network.ends[index]
        if isinstance(found, Wire) and not found.ohms:
            raise ValueError(f"{found.name!r} joins its two nodes into one; give it some ohms to know its current")
        through = (self._volts[a] - self._volts[b]) * network.admittance(index, self._state)
        return network.injection(index, self._state) - through if isinstance(found, Source) else through

    def amps(self, element: str | int) -> float:
        """Amps through an element."""
        return abs(self.amps_phasor(element))

    def va(self, source: str | int) -> float:
        """Volt-amperes at a source's terminals: what its plate rates."""
        network = self._network
        index = network.index(source) if isinstance(source, str) else source
        return self.volts(*network.ends[index]) * self.amps(index)


def _number_nodes(elements: tuple[Element, ...]) -> tuple[dict[str, int], int]:
    """A number for each node, earth being 0 and nodes joined by wires of 0 ohms sharing one; and how many numbers."""
    joined: dict[str, str] = {EARTH: EARTH}

    def root(name: str) -> str:
        while joined[name] != name:
            name = joined[name]
        return name

    for element in elements:
        joined.setdefault(element.a, element.a)
        joined.setdefault(element.b, element.b)
        if isinstance(element, Wire) and not element.ohms:
            joined[root(element.a)] = root(element.b)
    numbers = {root(EARTH): 0}
    return {name: numbers.setdefault(root(name), len(numbers)) for name in joined}, len(numbers)


def _admittances(element: Element) -> tuple[complex, complex]:
    """Siemens when off (open, unsealed, dead) and when on (closed, sealed, live)."""
    if isinstance(element, Wire):
        siemens = _siemens(element.name, element.ohms) if element.ohms else 0j
        return siemens, siemens
    if isinstance(element, Contact):
        return 0j, _siemens(element.name, element.ohms)
    if isinstance(element, Coil):
        return _siemens(element.name, element.unsealed), _siemens(element.name, element.sealed)
    live = _siemens(element.name, element.ohms)
    return live if element.dead is None else _siemens(element.name, element.dead), live


def _siemens(name: str, ohms: complex) -> complex:
    ohms = complex(ohms)
    if not cmath.isfinite(ohms) or ohms.real < 0 or abs(ohms) < LEAST_OHMS:
        raise ValueError(f"{name!r} cannot have {ohms:g} ohm: finite, at least {LEAST_OHMS:g}, no negative resistance")
    return 1 / ohms
