"""The library of documents that travels with the program: sequences and the modelled world."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any, Literal, overload

from stagecall import points
from stagecall.documents.loaded import Loaded, load
from stagecall.errors import NotInLibraryError
from stagecall.model.equipment import Equipment
from stagecall.model.fault import Fault
from stagecall.model.kit import Kit
from stagecall.model.map import Map
from stagecall.model.sequence import Block, Monitor, Sequence
from stagecall.model.system import System

Kind = Literal["sequence", "block", "monitor", "system", "kit", "equipment", "fault", "map"]
KINDS: dict[str, type] = {
    "sequence": Sequence,
    "block": Block,
    "monitor": Monitor,
    "system": System,
    "kit": Kit,
    "equipment": Equipment,
    "fault": Fault,
    "map": Map,
}
_FOLDERS = {
    "block": "sequences/blocks",
    "monitor": "sequences/monitors",
    "system": "sim/systems",
    "kit": "sim/kits",
    "equipment": "sim/equipment",
    "fault": "sim/faults",
    "map": "sim/maps",
}
_NOT_GROUPS = ("blocks", "monitors")
_MANY = 25
"""More names than these are not told in a complaint."""


def library_folder() -> Path:
    """The folder that holds ``sequences/`` and ``sim/``: inside the installed package, or the checkout's own."""
    package = Path(__file__).parent.parent
    installed = package / "library"
    return installed if installed.is_dir() else package.parent.parent


def missing(name: str, known: Collection[str]) -> str:
    """What to say of a name that is none of the *known*: the nearest one, all of few, or where many are listed."""
    if near := points.nearest(name, list(known)):
        return f"did you mean '{near}'?"
    if len(known) > _MANY:
        return f"'stagecall list' names all {len(known)}"
    return f"known: {', '.join(known) or 'none'}"


class Library:
    """Documents by name; each file is read once."""

    def __init__(self, folder: Path | None = None) -> None:
        """*folder* holds ``sequences/`` and ``sim/``; None: the library that came with the program."""
        self._folder = folder or library_folder()
        self._files: dict[str, dict[str, Path]] = {}
        self._loaded: dict[tuple[str, str], Loaded[Any]] = {}

    def names(self, kind: Kind) -> tuple[str, ...]:
        """The names that the library holds of a kind, sorted."""
        return tuple(self._index(kind))

    @overload
    def load(self, kind: Literal["sequence"], name: str) -> Loaded[Sequence]: ...
    @overload
    def load(self, kind: Literal["block"], name: str) -> Loaded[Block]: ...
    @overload
    def load(self, kind: Literal["monitor"], name: str) -> Loaded[Monitor]: ...
    @overload
    def load(self, kind: Literal["system"], name: str) -> Loaded[System]: ...
    @overload
    def load(self, kind: Literal["kit"], name: str) -> Loaded[Kit]: ...
    @overload
    def load(self, kind: Literal["equipment"], name: str) -> Loaded[Equipment]: ...
    @overload
    def load(self, kind: Literal["fault"], name: str) -> Loaded[Fault]: ...
    @overload
    def load(self, kind: Literal["map"], name: str) -> Loaded[Map]: ...
    def load(self, kind: Kind, name: str) -> Loaded[Any]:
        """A document: *name* is a file where it has ``/`` or ``.yaml``, else a name of the library.

        Raises:
            DocumentError: with every complaint of the file.
            NotInLibraryError: no such name; the nearest is given.
            UsageError: the file cannot be read.
        """
        if (before := self._loaded.get((kind, name))) is not None:
            return before
        made: Loaded[Any] = load(KINDS[kind], self.find(kind, name))
        self._loaded[kind, name] = made
        return made

    def lend(self, kind: Kind, name: str, document: Loaded[Any]) -> None:
        """Give out this document under that name from now on, such as one that a log kept."""
        self._loaded[kind, name] = document

    def find(self, kind: Kind, name: str) -> Path:
        """The file of a name, or of an argument that is a file already.

        Raises:
            NotInLibraryError: no such name; the nearest is given.
        """
        if "/" in name or "\\" in name or name.endswith(".yaml"):
            return Path(name)
        index = self._index(kind)
        if name not in index:
            raise NotInLibraryError(f"no {kind} is called '{name}'; {missing(name, index)}")
        return index[name]

    def profiles(self, system: System) -> dict[str, Equipment]:
        """The equipment profiles of a system, by the profile's name."""
        names = dict.fromkeys(installed.profile for installed in system.equipment.values())
        return {name: self.load("equipment", name).document for name in names}

    def _index(self, kind: Kind) -> Mapping[str, Path]:
        if kind not in self._files:
            if kind == "sequence":
                found = [
                    file
                    for file in (self._folder / "sequences").glob("*/*.yaml")
                    if file.parent.name not in _NOT_GROUPS
                ]
            else:
                found = list((self._folder / _FOLDERS[kind]).glob("*.yaml"))
            self._files[kind] = {file.stem: file for file in sorted(found, key=lambda one: one.stem)}
        return self._files[kind]
