"""The 24 V network as a pure function of its state: one complex nodal solution, remembered.

A network is compiled once from its elements and may be shared by any number of runs. Its state is a small hashable
value, so that a solution is computed once and found again ever after.
"""

from __future__ import annotations

import cmath
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any, NamedTuple

from stagecall.circuit.elements import EARTH, Coil, Contact, Element, Source, Wire

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LEAKAGE = 1e-9
"""Siemens from every node to earth: 1 gigaohm, the order of sound cable insulation in a dry house.

It gives every floating island (a dry contact, a transformer joined to nothing, what hangs on a lost common) one
definite potential. At 30 V it carries 30 nA, a ten-thousandth of the smallest current that matters here (a leaking
solid-state output, some 0.3 mA); and it stands well clear of the rounding of the stiffest joint allowed.
"""

LEAST_OHMS = 1e-6
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
        self._sources = tuple(i for i, element in enumerate(self.elements) if isinstance(element, Source))
        self._scale_of = {index: position for position, index in enumerate(self._sources)}
        self._node, self._nodes = _number_nodes(self.elements)
        self._ends = [(self._node[element.a], self._node[element.b]) for element in self.elements]
        self._admittances = [_admittances(element) for element in self.elements]
        self._switched = [i for i, element in enumerate(self.elements) if isinstance(element, Contact | Coil)]
        self._remembered: dict[State, Solution] = {}
        self._fixed: NDArray[np.complex128] | None = None

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
        bits = sum(1 << index for index in {self._index[name] for name in on})
        given = scales or {}
        return State(bits, tuple(given.get(self.elements[index].name, 1.0) for index in self._sources))

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
        return element.volts * state.scales[self._scale_of[index]] * self.admittance(index, state)

    def _node_volts(self, state: State) -> list[complex]:
        import numpy as np  # noqa: PLC0415 - so that commands which solve nothing start quickly

        if self._fixed is None:
            self._fixed = np.zeros((self._nodes, self._nodes), complex)
            self._fixed.flat[:: self._nodes + 1] = LEAKAGE
            for index, element in enumerate(self.elements):
                if isinstance(element, Wire):
                    self._stamp(self._fixed, index, self._admittances[index][0])
        matrix = self._fixed.copy()
        for index in (*self._switched, *self._sources):
            if admittance := self.admittance(index, state):
                self._stamp(matrix, index, admittance)
        driven = np.zeros(self._nodes, complex)
        for index in self._sources:
            a, b = self._ends[index]
            injection = self.injection(index, state)
            driven[a] += injection
            driven[b] -= injection
        volts: list[complex] = np.linalg.solve(matrix[1:, 1:], driven[1:]).tolist()
        return [0j, *volts]

    def _stamp(self, matrix: NDArray[np.complex128], index: int, admittance: complex) -> None:
        a, b = self._ends[index]
        if a != b:
            matrix[a, a] += admittance
            matrix[b, b] += admittance
            matrix[a, b] -= admittance
            matrix[b, a] -= admittance


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
        node = self._network.node
        return self._volts[node(a) if isinstance(a, str) else a] - self._volts[node(b) if isinstance(b, str) else b]

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
        if isinstance(found, Wire) and not found.ohms:
            raise ValueError(f"{found.name!r} joins its two nodes into one; give it some ohms to know its current")
        through = self.volts_phasor(found.a, found.b) * network.admittance(index, self._state)
        return network.injection(index, self._state) - through if isinstance(found, Source) else through

    def amps(self, element: str | int) -> float:
        """Amps through an element."""
        return abs(self.amps_phasor(element))

    def va(self, source: str | int) -> float:
        """Volt-amperes at a source's terminals: what its plate rates."""
        network = self._network
        index = network.index(source) if isinstance(source, str) else source
        found = network.elements[index]
        return self.volts(found.a, found.b) * self.amps(index)


def _number_nodes(elements: tuple[Element, ...]) -> tuple[dict[str, int], int]:
    """A number for each node, earth being 0 and nodes joined by wires of 0 ohms sharing one; and how many numbers."""
    joined: dict[str, str] = {EARTH: EARTH}

    def root(name: str) -> str:
        while joined.setdefault(name, name) != name:
            name = joined[name]
        return name

    for element in elements:
        a, b = root(element.a), root(element.b)
        if isinstance(element, Wire) and not element.ohms:
            gone, kept = (b, a) if a == EARTH else (a, b)
            joined[gone] = kept
    numbers = {EARTH: 0}
    for name in joined:
        numbers.setdefault(root(name), len(numbers))
    return {name: numbers[root(name)] for name in joined}, len(numbers)


def _admittances(element: Element) -> tuple[complex, complex]:
    """Siemens when off (open, unsealed, dead) and when on (closed, sealed, live)."""
    match element:
        case Wire(name=name, ohms=ohms):
            siemens = _siemens(name, ohms) if ohms else 0j
            return siemens, siemens
        case Contact(name=name, ohms=ohms):
            return 0j, _siemens(name, ohms)
        case Coil(name=name, sealed=sealed, unsealed=unsealed):
            return _siemens(name, unsealed), _siemens(name, sealed)
        case Source(name=name, ohms=ohms, dead=dead):
            return _siemens(name, ohms if dead is None else dead), _siemens(name, ohms)


def _siemens(name: str, ohms: complex) -> complex:
    value: Any = complex(ohms)
    if not cmath.isfinite(value) or value.real < 0 or abs(value) < LEAST_OHMS:
        raise ValueError(f"{name!r} cannot have {ohms} ohm: finite, at least {LEAST_OHMS:g}, no negative resistance")
    return 1 / complex(value)
