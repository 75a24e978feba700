"""The lead from the flame rod to its board, which can be pulled off."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, ClassVar

from stagecall.circuit import Element
from stagecall.plant.burner import Burner
from stagecall.plant.part import Bench, Medium
from stagecall.plant.signals import Signal
from stagecall.plant.switches import SafetySwitch


class FlameLead(SafetySwitch):
    """Carries the rod's current while it is on; no part of the 24 V network."""

    terminals: ClassVar[dict[str, Medium]] = {"rod": "flame", "board": "flame"}

    def __init__(self, bench: Bench, name: str, parameters: Any) -> None:
        super().__init__(bench, name, parameters)
        self.flame_current = Signal(0.0)

    @classmethod
    def elements(cls, name: str, p: Any) -> Iterable[Element]:  # noqa: ARG003 - not in the network
        """None."""
        return ()

    def connect(self) -> None:
        """Find the rod."""
        self._burner = self.joined("rod", Burner)
        self._burner.flame_current.listen(self._carry)

    def _stand(self, closed: bool) -> None:
        self.closed.set(closed)
        self._carry()

    def _carry(self, _: object = None) -> None:
        self.flame_current.set(self._burner.flame_current.value if self.closed.value else 0.0)
