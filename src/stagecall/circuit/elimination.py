"""Solving the nodal equations: symmetric elimination along an order found once for each shape of network.

Control circuits are nearly trees, so eliminating the node with the fewest neighbours first leaves hardly any fill, and
a plain loop is quicker than a dense solver and needs no library. No pivoting is wanted: no element here has a negative
resistance, and of such matrices every pivot stays sound.
"""

from __future__ import annotations

from functools import lru_cache


class Elimination:
    """The order of elimination of one shape of network.

    A matrix is a list of ``size`` slots: the diagonal of node *n* in slot *n*, then the other entries, each once. Node
    0 is the reference: it has no equation, and what is written into its slots is never read.
    """

    def __init__(self, nodes: int, ends: tuple[tuple[int, int], ...]) -> None:
        neighbours: list[set[int]] = [set() for _ in range(nodes)]
        for a, b in ends:
            if a != b and a and b:
                neighbours[a].add(b)
                neighbours[b].add(a)
        spare = nodes
        self._slots: dict[tuple[int, int], int] = {(0, node): spare for node in range(nodes)}
        self.size = nodes + 1
        self._steps: list[tuple[int, list[tuple[int, int, list[tuple[int, int]]]]]] = []
        left = set(range(1, nodes))
        while left:
            node = min(left, key=lambda candidate: (len(neighbours[candidate]), candidate))
            left.remove(node)
            later = sorted(neighbours[node])
            edges = []
            for position, row in enumerate(later):
                neighbours[row].discard(node)
                neighbours[row].update(column for column in later if column != row)
                targets = [(self._place(row, column), self._place(node, column)) for column in later[position:]]
                edges.append((self._place(node, row), row, targets))
            self._steps.append((node, edges))
        self._back = [(node, [(slot, row) for slot, row, _ in edges]) for node, edges in reversed(self._steps)]

    def _place(self, a: int, b: int) -> int:
        if a == b:
            return a
        pair = (a, b) if a < b else (b, a)
        if pair not in self._slots:
            self._slots[pair] = self.size
            self.size += 1
        return self._slots[pair]

    def slot(self, a: int, b: int) -> int:
        """Where the entry between the two different nodes of one of the ``ends`` stands."""
        return self._slots[(a, b) if a < b else (b, a)]

    def solve(self, matrix: list[complex], driven: list[complex]) -> None:
        """Replace *driven* (amps into each node) by the volts of each node; *matrix* is used up."""
        for node, edges in self._steps:
            pivot, amps = matrix[node], driven[node]
            for slot, row, targets in edges:
                entry = matrix[slot]
                if entry:
                    share = entry / pivot
                    driven[row] -= share * amps
                    for target, source in targets:
                        matrix[target] -= share * matrix[source]
        driven[0] = 0j
        for node, entries in self._back:
            amps = driven[node]
            for slot, row in entries:
                amps -= matrix[slot] * driven[row]
            driven[node] = amps / matrix[node]


@lru_cache(maxsize=256)
def elimination(nodes: int, ends: tuple[tuple[int, int], ...]) -> Elimination:
    """The elimination for that shape: networks that differ only in figures share it."""
    return Elimination(nodes, ends)
