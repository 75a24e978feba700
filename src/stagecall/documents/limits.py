"""Limits made ready: a sequence's default, moved by the maker's figure, or overridden by name."""

from __future__ import annotations

from stagecall.documents.loaded import Loaded
from stagecall.documents.walk import Path
from stagecall.errors import Complaint, QuantityError
from stagecall.model.plan import ResolvedLimit
from stagecall.model.sequence import Limit
from stagecall.model.system import Figure, System
from stagecall.units import Kind, Quantity, Range, Spread, show


class Limits:
    """The limits of one file (a sequence, a block, a monitor) on one system.

    Each is resolved when it is first used, because its use says what it measures. ``complaints`` collects what is
    wrong with the system's figures.
    """

    def __init__(
        self, limits: dict[str, Limit], system: Loaded[System] | None, overrides: dict[str, Spread] | None = None
    ) -> None:
        self._limits = limits
        self._system = system
        self._overrides = overrides or {}
        self.resolved: dict[str, ResolvedLimit] = {}
        self.complaints: list[Complaint] = []
        self.wrong_overrides: list[tuple[str, str]] = []

    def get(self, name: str, kind: Kind) -> ResolvedLimit:
        """The limit of that name (known to exist)."""
        if name not in self.resolved:
            self.resolved[name] = self._resolve(name, self._limits[name], kind)
        return self.resolved[name]

    def _resolve(self, name: str, limit: Limit, kind: Kind) -> ResolvedLimit:
        default = limit.default.to(kind)
        if (override := self._overrides.get(name)) is not None:
            return self._overridden(name, limit, override, kind)
        figure = None
        if self._system is not None and limit.maker_data is not None:
            figure = self._system.document.maker_data.get(limit.maker_data)
        if figure is None:
            return ResolvedLimit(name=name, range=default, kind=kind, source=limit.source)
        return self._moved(name, limit, figure, kind)

    def _overridden(self, name: str, limit: Limit, override: Spread, kind: Kind) -> ResolvedLimit:
        try:
            span = override.to(kind)
        except QuantityError as error:
            self.wrong_overrides.append((name, str(error)))
            span = limit.default.to(kind)
        return ResolvedLimit(name=name, range=span, kind=kind, source=limit.source, origin="override")

    def _moved(self, name: str, limit: Limit, figure: Figure, kind: Kind) -> ResolvedLimit:
        """``figure ± allow``, or ± the maker's own tolerance where that is wider, within the hard bounds.

        An end that the default leaves open stays open: a figure moves a limit, it adds none.
        """
        default = limit.default.to(kind)
        unmoved = ResolvedLimit(name=name, range=default, kind=kind, source=limit.source)
        at: Path = ("maker_data", str(limit.maker_data))
        try:
            value = figure.value.to(kind)
            allow = max(_off(limit.allow, value, kind), _off(figure.tolerance, value, kind))
        except QuantityError as error:
            self._complain((*at, "value"), str(error))
            return unmoved
        below = None if limit.never_below is None else limit.never_below.to(kind)
        above = None if limit.never_above is None else limit.never_above.to(kind)
        if below is not None and value < below:
            text = f"{figure.value} lies below what the limit '{name}' may ever be ({limit.never_below})"
            self._complain((*at, "value"), text)
            return unmoved
        if above is not None and value > above:
            text = f"{figure.value} lies above what the limit '{name}' may ever be ({limit.never_above})"
            self._complain((*at, "value"), text)
            return unmoved
        low = None if default.low is None else value - allow
        high = None if default.high is None else value + allow
        notes = []
        if kind == "time" and low is not None and low < 0:
            low = 0
        if low is not None and below is not None and low < below:
            low = below
            notes.append(f"never below {show(below, kind)}")
        if high is not None and above is not None and high > above:
            high = above
            notes.append(f"never above {show(above, kind)}")
        return ResolvedLimit(
            name=name,
            range=Range(low, high),
            kind=kind,
            source=figure.source,
            origin="maker data",
            note=", ".join(notes),
        )

    def _complain(self, path: Path, text: str) -> None:
        if self._system is not None:
            self.complaints.append(self._system.complain(path, text))


def _off(allow: Quantity | None, value: float, kind: Kind) -> float:
    """An allowance in SI: a share of the figure, or a quantity of its kind."""
    if allow is None:
        return 0.0
    if allow.unit == "%" and kind != "fraction":
        off = abs(value) * allow.number / 100
        return round(off) if kind == "time" else off
    return allow.to("difference" if kind == "temperature" else kind)
