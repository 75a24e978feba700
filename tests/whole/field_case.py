"""Troubles from the field as typed files: a system of the library, what was done to it, and what must come out.

``site`` changes the library's system into the one at hand, ``wrong`` is what somebody wired or set wrongly there, both
in the words of a system's own file, conductors and machines by name (``null`` takes one away). ``faults`` are those of
the catalogue. ``fails`` names expectations of the library, ``clean`` sequences that pass wholly. ``shows`` is what
people saw, as a sequence that passes with the trouble and fails without it. ``no_fault``: nothing is wrong.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import msgspec
import yaml

from stagecall.documents import parse
from stagecall.model.sequence import Sequence
from stagecall.model.system import System
from whole.harness import LIBRARY

FOLDER = Path(__file__).parent / "cases"


class Case(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One file, as written."""

    case: str
    story: str
    system: str
    kit: str = "full"
    site: dict[str, Any] = {}
    wrong: dict[str, Any] = {}
    faults: tuple[str, ...] = ()
    fails: dict[str, tuple[str, ...]] = {}
    clean: tuple[str, ...] = ()
    no_fault: str = ""
    shows: dict[str, Any]

    @property
    def troubled(self) -> str:
        """The name of the system as it was found."""
        return f"{self.case}, as found"

    @property
    def sound(self) -> str:
        """The name of the system put right."""
        return f"{self.case}, put right"

    @property
    def seen(self) -> str:
        """The name of the sequence that tells what people saw."""
        return f"{self.case}, what was seen"


@cache
def cases() -> tuple[Case, ...]:
    """Every case, its systems and its sequence lent to the library."""
    return tuple(_read(file) for file in sorted(FOLDER.glob("*.yaml")))


def _read(file: Path) -> Case:
    case = msgspec.convert(yaml.load(file.read_bytes(), yaml.BaseLoader), Case)  # noqa: S506 - makes text of everything
    assert case.case == file.stem
    sound = _changed(_written(LIBRARY.find("system", case.system)), case.site)
    for name, system in ((case.sound, sound), (case.troubled, _changed(sound, case.wrong))):
        LIBRARY.lend("system", name, parse(System, _text(system | {"system": name}), file.name))
    told = {"sequence": case.seen, "title": case.case, "purpose": case.story, "group": "acceptance"} | case.shows
    LIBRARY.lend("sequence", case.seen, parse(Sequence, _text(told), file.name))
    return case


def _written(file: Path) -> dict[str, Any]:
    written: dict[str, Any] = yaml.load(file.read_bytes(), yaml.BaseLoader)  # noqa: S506 - makes text of everything
    return written


def _text(document: dict[str, Any]) -> bytes:
    return yaml.safe_dump(document, allow_unicode=True, sort_keys=False, width=1000).encode()


def _changed(system: dict[str, Any], change: dict[str, Any]) -> dict[str, Any]:
    """A copy with *change* laid over it; lists of conductors are matched by name."""
    conductors = {one["name"]: one for one in system["conductors"]}
    laid = _laid_over(system | {"conductors": conductors}, change)
    named = [{"name": name} | one for name, one in laid["conductors"].items()]
    return laid | {"conductors": named}


def _laid_over(under: Any, over: Any) -> Any:
    if not isinstance(under, dict) or not isinstance(over, dict):
        return over
    laid = under | {name: _laid_over(under.get(name), one) for name, one in over.items()}
    return {name: one for name, one in laid.items() if one != "null"}
