"""``stagecall list``: what the library holds."""

from __future__ import annotations

import json
import sys
from itertools import groupby
from typing import Any, get_args

from stagecall.cli.saying import tell
from stagecall.documents import Library, resolve_sequence
from stagecall.documents.library import Kind
from stagecall.errors import ExitCode
from stagecall.model.sequence import Group
from stagecall.report.page import GAP, Page
from stagecall.run.takes import takes

SHELVES: dict[str, Kind] = {
    "sequences": "sequence",
    "monitors": "monitor",
    "equipment": "equipment",
    "systems": "system",
    "kits": "kit",
    "faults": "fault",
    "maps": "map",
}
GROUPS: tuple[Group, ...] = get_args(Group)
"""The order in which groups of sequences are listed."""


def list_(*, as_json: bool) -> int:
    """Print what the library holds; as JSON also how long each sequence takes by itself, and what it starts.

    Raises:
        DocumentError: a file of the library is wrong.
    """
    library = Library()
    shelves = {shelf: _shelf(library, kind) for shelf, kind in SHELVES.items()}
    if as_json:
        shelves["sequences"] = [row | _taken(library, row["name"]) for row in shelves["sequences"]]
    tell(json.dumps(shelves, indent=2) if as_json else _drawn(shelves))
    return ExitCode.PASSED


def list_system(name: str, *, as_json: bool) -> int:
    """Print which sequences must run on a system, which also apply, and which do not and why not.

    Raises:
        StagecallError: there is no such system, or a file is wrong.
    """
    library = Library()
    installed = library.load("system", name)
    system = installed.document
    profiles = library.profiles(system)
    names = dict.fromkeys((*system.must_run, *library.names("sequence")))
    plans = [resolve_sequence(library.load("sequence", one), installed, profiles, library) for one in names]
    must = [one for one in plans if one.name in system.must_run]
    rest = [one for one in plans if one.name not in system.must_run]
    shelves: dict[str, list[dict[str, Any]]] = {
        "must run": [{"name": one.name, "title": one.title} for one in must],
        "may run": [{"name": one.name, "title": one.title} for one in rest if not one.not_applicable],
        "do not apply": [{"name": one.name, "title": one.not_applicable} for one in rest if one.not_applicable],
    }
    if as_json:
        wanted = {
            "system": system.system,
            "must_run": [one.name for one in must],
            "may_run": [row["name"] for row in shelves["may run"]],
            "not_applicable": [{"sequence": row["name"], "reason": row["title"]} for row in shelves["do not apply"]],
        }
        tell(json.dumps(wanted, indent=2))
    else:
        about = "\n\n".join(text for text in (f"{system.system}: {system.title}", system.scenario) if text)
        tell(_drawn(shelves, about))
    return ExitCode.PASSED


def _shelf(library: Library, kind: Kind) -> list[dict[str, Any]]:
    shelf = []
    for name in library.names(kind):
        document: Any = library.load(kind, name).document
        row = {"name": name, "title": document.title}
        if kind == "sequence":
            row["group"] = document.group
        shelf.append(row)
    return sorted(shelf, key=lambda row: GROUPS.index(row["group"])) if kind == "sequence" else shelf


def _taken(library: Library, name: str) -> dict[str, Any]:
    taken = takes(resolve_sequence(library.load("sequence", name), None, {}, library))
    return {"takes_ms": [taken.shortest, taken.longest], "starts": list(taken.starts), "calls": list(taken.calls)}


def _drawn(shelves: dict[str, list[dict[str, Any]]], about: str = "") -> str:
    page = Page(sys.stdout)
    for paragraph in about.splitlines():
        page.paragraph(paragraph)
    longest = max((len(row["name"]) for shelf in shelves.values() for row in shelf), default=0)
    for shelf, rows in shelves.items():
        page.blank()
        page.paragraph(shelf)
        for group, members in groupby(rows, key=lambda row: row.get("group", "")):
            if group:
                page.paragraph(group, indent=2)
            indent = 4 if group else 2
            name = longest + 4 - indent
            for row in members:
                room = page.width - indent - name - GAP
                if room >= 20:
                    page.columns([row["name"], row["title"]], [name, room], indent=indent)
                else:
                    page.line(row["name"], page.width - indent, indent=indent)
                    page.line(row["title"], page.width - indent - 2, indent=indent + 2)
    return page.text()
