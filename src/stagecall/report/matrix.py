"""What ``stagecall cover`` found, as one page that stands by itself: who catches what, and what nobody catches."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import groupby
from pathlib import Path

import msgspec

import stagecall as package
from stagecall.report.cover import percent
from stagecall.run.cover import Case, Cover, KitFigures, Outcome, Unfound, outcome

MARKS: dict[Outcome, str] = {
    "caught": "C", "missed": "M", "caught as something else": "E", "false alarm": "F", "no response": "",
}  # fmt: skip
"""What stands in a cell; nothing where there was no response."""
_BROKEN = "?"
_NOT_TRIED = "-"
_TEMPLATE = "matrix.html"


class Row(msgspec.Struct, frozen=True):
    """One fault: what stands in each column, and what it came to over all of them."""

    fault: str
    part: str
    cells: tuple[str, ...]
    verdict: str
    """``caught``, ``missed`` or ``not detectable``."""


class Matrix(msgspec.Struct, frozen=True):
    """Faults against sequences, on one system with one kit."""

    system: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    caught: tuple[int, ...]
    """How many faults each column catches."""


class KitPage(msgspec.Struct, frozen=True):
    """All that is shown of one kit."""

    name: str
    figures: KitFigures
    missed: tuple[Unfound, ...]
    hidden: tuple[tuple[str, int], ...]
    """Entries of the catalogue that showed nothing somewhere, and at how many places."""
    nothing_alone: tuple[str, ...]
    unverified: tuple[tuple[str, int], ...]
    """What healthy machines left unverified, and on how many systems."""
    matrices: tuple[Matrix, ...]


def as_page(cover: Cover) -> str:
    """The page, HTML, with no script and nothing fetched from elsewhere."""
    import jinja2  # noqa: PLC0415 - imported when first needed

    there = jinja2.Environment(
        loader=jinja2.FileSystemLoader(Path(__file__).parent),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )
    there.filters["percent"] = percent
    kits = [_kit(name, figures, cover) for name, figures in cover.kits.items()]
    return there.get_template(_TEMPLATE).render(cover=cover, kits=kits, marks=MARKS, version=package.__version__)


def _kit(name: str, figures: KitFigures, cover: Cover) -> KitPage:
    cases = [case for case in cover.cases if case.kit == name]
    hidden: dict[str, int] = {}
    for case in cases:
        if not case.detectable:
            hidden[case.entry.name] = hidden.get(case.entry.name, 0) + 1
    return KitPage(
        name=name,
        figures=figures,
        missed=tuple(one for one in figures.undetected if one.detectable),
        hidden=tuple(sorted(hidden.items())),
        nothing_alone=tuple(sequence for sequence, count in figures.alone.items() if not count),
        unverified=tuple(cover.unverified.get(name, {}).items()),
        matrices=tuple(_matrices(cases)),
    )


def _matrices(cases: Sequence[Case]) -> Iterable[Matrix]:
    for system, those in groupby(cases, key=lambda case: case.system):
        group = list(those)
        columns = sorted({one.sequence for case in group for one in case.tried})
        rows = [_row(case, columns) for case in group]
        caught = tuple(sum(row.cells[at] == MARKS["caught"] for row in rows) for at in range(len(columns)))
        yield Matrix(system, tuple(columns), tuple(rows), caught)


def _row(case: Case, columns: Sequence[str]) -> Row:
    marks = {one.sequence: _BROKEN if one.broken else MARKS[outcome(one)] for one in case.tried}
    verdict = "caught" if case.detected else "missed" if case.detectable else "not detectable"
    return Row(case.entry.text, case.entry.part, tuple(marks.get(name, _NOT_TRIED) for name in columns), verdict)
