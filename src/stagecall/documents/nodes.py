"""YAML text to nodes: scalars as they are written, tables, lists, each with its place.

Only the plain part of YAML is taken: no tags, no anchors or aliases, no merge keys, no duplicate keys, one document a
file. The nodes are built from the parser's events rather than by its composer, so that depth is bounded before
anything recurses.
"""

from __future__ import annotations

import re
from typing import Any

import msgspec
import yaml

from stagecall.errors import Complaint

MAX_BYTES = 1024 * 1024
"""No file of ours comes near it; more is a mistake or an attack."""
MAX_DEPTH = 32
"""Lists and tables inside one another."""

_Loader: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_BYTE_ORDER_MARK = "\ufeff"
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class Scalar(msgspec.Struct):
    """A single value, as text. ``broken``: complained of already."""

    text: str
    line: int
    column: int
    broken: bool = False


class Items(msgspec.Struct):
    """A list."""

    items: list[Node]
    line: int
    column: int


class Table(msgspec.Struct):
    """Keys and values in the order written."""

    entries: list[tuple[Scalar, Node]]
    line: int
    column: int


Node = Scalar | Items | Table


class _Stop(Exception):  # noqa: N818 - not an error of its own: the complaint is recorded, reading ends
    """Nothing after this can be read sensibly."""


class _Reader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.complaints: list[Complaint] = []

    def complain(self, line: int, column: int, text: str) -> None:
        self.complaints.append(Complaint(self.file, line, column, text))

    def decode(self, data: bytes) -> str:
        if len(data) > MAX_BYTES:
            self.complain(1, 1, f"the file is larger than {MAX_BYTES // 1024} KiB")
            raise _Stop
        try:
            text = data.decode().removeprefix(_BYTE_ORDER_MARK)
        except UnicodeDecodeError as error:
            good = data[: error.start].decode().removeprefix(_BYTE_ORDER_MARK)
            self.complain(*_place(good, len(good)), f"byte 0x{data[error.start]:02x} is not UTF-8")
            raise _Stop from None
        if (odd := _UNPRINTABLE.search(text)) is not None:
            self.complain(*_place(text, odd.start()), f"character U+{ord(odd[0]):04X} cannot be printed")
            raise _Stop
        return text

    def read(self, text: str) -> Node | None:
        """The document's root; None where the file is empty."""
        roots: list[Node] = []
        frames: list[_Frame] = []
        loader = _Loader(text)
        try:
            while loader.check_event():
                event = loader.get_event()
                if isinstance(event, yaml.ScalarEvent):
                    self._refuse_marks(event)
                    self._add(roots, frames, Scalar(event.value, *_mark(event)))
                elif isinstance(event, yaml.AliasEvent):
                    self.complain(*_mark(event), f"'*{event.anchor}': aliases are not used here, write it out")
                    self._add(roots, frames, Scalar("", *_mark(event), broken=True))
                elif isinstance(event, yaml.CollectionStartEvent):
                    self._refuse_marks(event)
                    if len(frames) == MAX_DEPTH:
                        self.complain(*_mark(event), f"more than {MAX_DEPTH} lists and tables inside one another")
                        raise _Stop
                    table = isinstance(event, yaml.MappingStartEvent)
                    frames.append(_Frame(Table([], *_mark(event)) if table else Items([], *_mark(event))))
                elif isinstance(event, yaml.CollectionEndEvent):
                    self._add(roots, frames, frames.pop().node)
                elif isinstance(event, yaml.DocumentStartEvent) and roots:
                    self.complain(*_mark(event), "a second document begins here; a file holds one")
                    raise _Stop
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            place = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            self.complain(*place, f"this is not YAML: {error.problem or error.context}")
            raise _Stop from None
        except yaml.YAMLError as error:
            self.complain(1, 1, f"this is not YAML: {str(error).splitlines()[0]}")
            raise _Stop from None
        finally:
            loader.dispose()
        return roots[0] if roots else None

    def _refuse_marks(self, event: Any) -> None:
        if event.anchor is not None:
            self.complain(
                *_mark(event), f"'&{event.anchor}': anchors are not used here, write it out where it is wanted"
            )
        if event.tag is not None:
            self.complain(*_mark(event), f"'{event.tag}': tags are not used here, every value has its type already")

    def _add(self, roots: list[Node], frames: list[_Frame], node: Node) -> None:
        if not frames:
            roots.append(node)
            return
        frame = frames[-1]
        if isinstance(frame.node, Items):
            frame.node.items.append(node)
        elif not frame.has_key:
            frame.has_key, frame.key = True, self._key(frame, node)
        else:
            if frame.key is not None:
                frame.node.entries.append((frame.key, node))
            frame.has_key = False

    def _key(self, frame: _Frame, node: Node) -> Scalar | None:
        """The key, or None where its entry is dropped."""
        if not isinstance(node, Scalar):
            self.complain(node.line, node.column, "a key is a single word, this is a list or a table")
            return None
        if node.broken:
            return None
        if node.text == "<<":
            self.complain(node.line, node.column, "'<<': merge keys are not used here, write it out")
            return None
        if (before := frame.seen.get(node.text)) is not None:
            self.complain(node.line, node.column, f"'{node.text}' stands here twice, first in line {before}")
            return None
        frame.seen[node.text] = node.line
        return node


class _Frame:
    """A list or table being read."""

    __slots__ = ("has_key", "key", "node", "seen")

    def __init__(self, node: Items | Table) -> None:
        self.node = node
        self.has_key = False
        self.key: Scalar | None = None
        self.seen: dict[str, int] = {}


def _mark(event: Any) -> tuple[int, int]:
    return event.start_mark.line + 1, event.start_mark.column + 1


def _place(text: str, index: int) -> tuple[int, int]:
    return text.count("\n", 0, index) + 1, index - (text.rfind("\n", 0, index) + 1) + 1


def read_nodes(data: bytes, file: str) -> tuple[str, Node | None, list[Complaint]]:
    """The text, its root node, and what is wrong so far; no root where nothing can be read from it."""
    reader = _Reader(file)
    text = ""
    try:
        text = reader.decode(data)
        root = reader.read(text)
    except _Stop:
        return text, None, reader.complaints
    if root is None:
        reader.complain(1, 1, "the file is empty")
    return text, root, reader.complaints
