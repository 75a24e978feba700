"""Limits made ready: a sequence's default, moved by the maker's figure, or overridden by name."""

from __future__ import annotations

from stagecall.documents.loaded import Loaded
from stagecall.documents.walk import Path, mismeasured
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
        """``figure ± allow``, or ± the maker's own tolerance and a tenth more where that is wider; within hard bounds.

        The tenth keeps a machine at the edge of its tolerance off the edge of the limit, where nothing can be told.
        An end that the default leaves open stays open: a figure moves a limit, it adds none.
        """
        default = limit.default.to(kind)
        below = None if limit.never_below is None else limit.never_below.to(kind)
        above = None if limit.never_above is None else limit.never_above.to(kind)
        if not self._sound(name, limit, figure, kind):
            return ResolvedLimit(name=name, range=default, kind=kind, source=limit.source)
        value = figure.value.to(kind)
        allow = max(_off(limit.allow, value, kind), 1.1 * _off(figure.tolerance, value, kind))
        low, high = value - allow, value + allow
        if kind == "time":
            low, high = max(0, round(low)), round(high)
        notes = []
        if below is not None and default.low is not None and low < below:
            low = below
            notes.append(f"never below {show(below, kind)}")
        if above is not None and default.high is not None and high > above:
            high = above
            notes.append(f"never above {show(above, kind)}")
        return ResolvedLimit(
            name=name,
            range=Range(None if default.low is None else low, None if default.high is None else high),
            kind=kind,
            source=figure.source,
            origin="maker data",
            note=", ".join(notes),
        )

    def _sound(self, name: str, limit: Limit, figure: Figure, kind: Kind) -> bool:
        """Whether the figure is of the limit's kind and within its hard bounds; complains where it is not."""
        tolerance = figure.tolerance if figure.tolerance is None or figure.tolerance.unit != "%" else None
        wrong = {
            "value": mismeasured(figure.value, kind),
            "tolerance": "" if tolerance is None else mismeasured(tolerance, _width_of(kind)),
        }
        if not wrong["value"]:
            value = figure.value.to(kind)
            if limit.never_below is not None and value < limit.never_below.to(kind):
                wrong["value"] = f"{figure.value} lies below what the limit '{name}' may ever be ({limit.never_below})"
            if limit.never_above is not None and value > limit.never_above.to(kind):
                wrong["value"] = f"{figure.value} lies above what the limit '{name}' may ever be ({limit.never_above})"
        for key, text in wrong.items():
            if text:
                self._complain(("maker_data", str(limit.maker_data), key), text)
        return not any(wrong.values())

    def _complain(self, path: Path, text: str) -> None:
        if self._system is not None:
            self.complaints.append(self._system.complain(path, text))


def _off(allow: Quantity | None, value: float, kind: Kind) -> float:
    """An allowance in SI: a share of the figure, or a quantity of its kind."""
    if allow is None:
        return 0.0
    if allow.unit == "%" and kind != "fraction":
        return abs(value) * allow.number / 100
    return allow.to(_width_of(kind))


def _width_of(kind: Kind) -> Kind:
    """What measures the width of a range of this kind."""
    return "difference" if kind == "temperature" else kind
