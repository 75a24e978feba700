"""One document: read, typed, checked; its text, digest and places kept."""

from __future__ import annotations

import hashlib
from pathlib import Path as FilePath
from typing import Any, Generic, TypeVar

import msgspec

from stagecall.documents.checks import CHECKS
from stagecall.documents.nodes import read_nodes
from stagecall.documents.sugar import SUGAR
from stagecall.documents.walk import BAD, Path, Places, Walker
from stagecall.errors import Complaint, DocumentError, UsageError

T = TypeVar("T")


class Loaded(msgspec.Struct, Generic[T], frozen=True):
    """A document with what is needed to speak of it later.

    ``raw`` is the text as read, ``digest`` the SHA-256 of its UTF-8 bytes in hex, ``file`` the path as it was given.
    """

    document: T
    raw: str
    digest: str
    file: str
    places: Places

    def complain(self, path: Path, text: str) -> Complaint:
        """A complaint at the place of a value, or of the nearest thing around it that stands in the file.

        *path* holds keys and list indexes from the root: ``("limits", "minimum_off", "default")``.
        """
        while path and path not in self.places:
            path = path[:-1]
        line, column = self.places.get(path, (1, 1))
        return Complaint(self.file, line, column, text)


def parse(kind: type[T], data: bytes, file: str) -> Loaded[T]:
    """Read a document of the struct *kind* from its bytes; *file* is the name complaints bear.

    Raises:
        DocumentError: with every complaint, in the order of the file.
    """
    raw, root, complaints = read_nodes(data, file)
    if root is None:
        raise DocumentError(_in_order(complaints))
    walker = Walker(file, SUGAR)
    document: Any = walker.convert(root, kind, ())
    complaints += walker.complaints
    loaded = Loaded(document, raw, hashlib.sha256(raw.encode()).hexdigest(), file, walker.places)
    if document is not BAD and (check := CHECKS.get(kind)) is not None:
        check(
            document,
            walker.places,
            whole=not complaints,
            complain=lambda p, t: complaints.append(loaded.complain(p, t)),
        )
    if complaints:
        raise DocumentError(_in_order(complaints))
    return loaded


def load(kind: type[T], path: str | FilePath) -> Loaded[T]:
    """Read a document of the struct *kind* from a file.

    Raises:
        DocumentError: with every complaint, in the order of the file.
        UsageError: the file is not there or cannot be read.
    """
    try:
        data = FilePath(path).read_bytes()
    except OSError as error:
        raise UsageError(f"{path}: {error.strerror or error}") from None
    loaded = parse(kind, data, str(path))
    key = kind.__name__.lower()
    name = getattr(loaded.document, key, None)
    if name is not None and name != FilePath(path).stem:
        text = f"'{name}' stands in a file of another name; call the file '{name}.yaml'"
        raise DocumentError([loaded.complain((key,), text)])
    return loaded


def _in_order(complaints: list[Complaint]) -> list[Complaint]:
    return sorted(complaints, key=lambda one: (one.line, one.column))
