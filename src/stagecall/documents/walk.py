"""Nodes to the model's structs: every value typed by the field it stands in, every complaint collected."""

from __future__ import annotations

import re
import types
from collections.abc import Callable
from enum import Enum
from functools import cache
from typing import Any, Final, Literal, Union, get_args, get_origin

import msgspec
from msgspec.structs import FieldInfo

from stagecall import points, units
from stagecall.documents.nodes import Items, Node, Scalar, Table
from stagecall.documents.words import ANYTHING, RULES, Rule, WordError, unknown
from stagecall.errors import Complaint, QuantityError

Path = tuple[str | int, ...]
Places = dict[Path, tuple[int, int]]
"""Where each value stands: line and column, from 1. Of a list or table: where its key stands."""


class _Bad(Enum):
    BAD = "bad"


BAD: Final = _Bad.BAD
"""Stands for a value that was complained of."""

_WHOLE = re.compile(r"[+-]?\d{1,9}")
_NUMBER = re.compile(r"[+-]?\d{1,9}(\.\d{1,9})?")
_WORD = re.compile(r"[A-Za-z]")
_MEASURED = (units.Quantity, units.Spread)
_LONGEST = 60
"""Characters that no quantity or range needs."""
_TOO_LARGE = 1e9
"""No quantity of this trade has a larger number before its unit."""


@cache
def fields(struct: type) -> dict[str, FieldInfo]:
    """A struct's fields by the key they are written with."""
    return {info.encode_name: info for info in msgspec.structs.fields(struct)}


@cache
def _tag(struct: type) -> str:
    tag = struct.__struct_config__.tag  # type: ignore[attr-defined]
    return str(tag)


class Walker:
    """Walks one file's nodes."""

    def __init__(self, file: str, sugar: dict[type, Callable[[Walker, Node, Path, Rule], Any]]) -> None:
        self.file = file
        self.complaints: list[Complaint] = []
        self.places: Places = {}
        self._sugar = sugar

    def complain(self, node: Node, text: str) -> _Bad:
        """Record a complaint at the node's place."""
        self.complaints.append(Complaint(self.file, node.line, node.column, text))
        return BAD

    def expected(self, node: Node, what: str) -> _Bad:
        """Complain that the node is not what was expected."""
        if isinstance(node, Scalar) and node.broken:
            return BAD
        return self.complain(node, f"expected {what}, found {found(node)}")

    def convert(self, node: Node, kind: Any, path: Path, rule: Rule = ANYTHING) -> Any:
        """The node as a value of the type *kind*, or BAD."""
        self.places.setdefault(path, (node.line, node.column))
        if isinstance(node, Scalar) and node.broken:
            return BAD
        if (sugar := self._sugar.get(kind)) is not None:
            return sugar(self, node, path, rule)
        origin = get_origin(kind)
        if origin in (Union, types.UnionType):
            made = self._union(node, [one for one in get_args(kind) if one is not type(None)], path, rule)
        elif origin is Literal:
            made = self._literal(node, get_args(kind), path)
        elif origin is tuple:
            made = self._tuple(node, get_args(kind), path, rule)
        elif origin is dict:
            made = self._dict(node, get_args(kind), path, rule)
        elif isinstance(kind, type) and issubclass(kind, msgspec.Struct) and kind not in _MEASURED:
            made = self.struct(node, kind, path)
        else:
            made = self._scalar(node, kind, rule)
        return made

    def struct(self, node: Node, kind: type, path: Path, only: frozenset[str] | None = None) -> Any:
        """A table as a struct; *only* names the keys that may be written, where not all may."""
        values = self.values(node, kind, path, only)
        return BAD if values is BAD else kind(**values)

    def values(self, node: Node, kind: type, path: Path, only: frozenset[str] | None = None) -> Any:
        """A struct's values by field, or BAD where a required one is missing or wrong."""
        if not isinstance(node, Table):
            return self.expected(node, "keys and values")
        known = {key: info for key, info in fields(kind).items() if only is None or key in only}
        values: dict[str, Any] = {}
        whole = True
        for key, value in node.entries:
            info = known.get(key.text)
            if info is None:
                self.complain(key, unknown(key.text, "a key here", known))
                continue
            made = self.convert_entry(key, value, info.type, (*path, key.text), RULES.get((kind, info.name), ANYTHING))
            if made is not BAD:
                values[info.name] = made
            elif info.required:
                whole = False
        written = {key.text for key, _ in node.entries}
        for key_name, info in known.items():
            if info.required and key_name not in written:
                self.complain(node, f"'{key_name}' is missing here")
                whole = False
        return values if whole else BAD

    def convert_entry(self, key: Scalar, value: Node, kind: Any, path: Path, rule: Rule) -> Any:
        """A value with its key: of a list or table the key's place is kept."""
        where = value if isinstance(value, Scalar) else key
        self.places[path] = (where.line, where.column)
        return self.convert(value, kind, path, rule)

    def word(self, node: Scalar, rule: Rule) -> Any:
        """A word under its rule."""
        if rule.word is None:
            return node.text
        try:
            return rule.word(node.text)
        except WordError as error:
            return self.complain(node, str(error))

    def _union(self, node: Node, kinds: list[Any], path: Path, rule: Rule) -> Any:
        if len(kinds) == 1:
            return self.convert(node, kinds[0], path, rule)
        if all(isinstance(one, type) and issubclass(one, msgspec.Struct) and _tag(one) != "None" for one in kinds):
            return self._tagged(node, {_tag(one): one for one in kinds}, path)
        if not isinstance(node, Scalar):
            for one in kinds:
                if get_origin(one) is (tuple if isinstance(node, Items) else dict):
                    return self.convert(node, one, path, rule)
        for one in kinds:
            if get_origin(one) is Literal and isinstance(node, Scalar) and node.text in get_args(one):
                return node.text
        if str in kinds and isinstance(node, Scalar) and _WORD.match(node.text):
            return self.word(node, rule)
        measured = [one for one in kinds if one in _MEASURED]
        return self.convert(node, (measured or kinds)[0], path, rule)

    def _tagged(self, node: Node, forms: dict[str, type], path: Path) -> Any:
        """The first key selects the form."""
        if not isinstance(node, Table) or not node.entries:
            return self.expected(node, f"keys and values, first one of {', '.join(forms)}")
        first = node.entries[0][0]
        if first.text in forms:
            return self.convert(node, forms[first.text], path)
        for key, _ in node.entries:
            if key.text in forms:
                self.complain(key, f"'{key.text}' must come first here")
                return self.convert(node, forms[key.text], path)
        return self.complain(first, unknown(first.text, "a key that can come first here", forms))

    def _literal(self, node: Node, known: tuple[Any, ...], path: Path) -> Any:
        if not isinstance(node, Scalar):
            return self.expected(node, f"one of {', '.join(known)}")
        if node.text in known:
            return node.text
        key = next((part for part in reversed(path) if isinstance(part, str)), "")
        return self.complain(node, unknown(node.text, f"a word for '{key}'", known))

    def _tuple(self, node: Node, kinds: tuple[Any, ...], path: Path, rule: Rule) -> Any:
        many = len(kinds) == 2 and kinds[1] is Ellipsis
        if not isinstance(node, Items) or (not many and len(node.items) != len(kinds)):
            return self.expected(node, "a list" if many else f"a list of {len(kinds)}")
        types_ = [kinds[0]] * len(node.items) if many else list(kinds)
        made = [
            self.convert(item, kind, (*path, index), rule)
            for index, (item, kind) in enumerate(zip(node.items, types_, strict=True))
        ]
        if many:
            return tuple(one for one in made if one is not BAD)
        return BAD if BAD in made else tuple(made)

    def _dict(self, node: Node, kinds: tuple[Any, ...], path: Path, rule: Rule) -> Any:
        key_kind, kind = kinds
        if not isinstance(node, Table):
            return self.expected(node, "keys and values")
        made: dict[str, Any] = {}
        for key, value in node.entries:
            word = self.word(key, rule) if key_kind is str else self._literal(key, get_args(key_kind), path)
            inside = rule.inside or ANYTHING
            if rule.by_point and word is not BAD and (known := points.point(word)) is not None:
                inside = Rule(kind=known.quantity)
            one = self.convert_entry(key, value, kind, (*path, key.text if word is BAD else word), inside)
            if word is not BAD and one is not BAD:
                made[word] = one
        return made

    def _scalar(self, node: Node, kind: Any, rule: Rule) -> Any:
        what = _EXPECTED.get(kind)
        if what is None:
            raise TypeError(f"no document can hold a {kind}")
        if not isinstance(node, Scalar) or (node.text == "" and kind is not str):
            return self.expected(node, units.KIND_WORDS[rule.kind] if rule.kind and kind is not str else what)
        if kind is str:
            return self.word(node, rule)
        if kind in _MEASURED:
            return self.measured(node, node.text, kind, rule)
        made = _PLAIN[kind](node.text)
        return self.expected(node, what) if made is None else made

    def measured(self, node: Node, text: str, kind: Any, rule: Rule) -> Any:
        """A quantity or range; of the rule's kind where it has one."""
        if len(text) > _LONGEST:
            return self.expected(node, _EXPECTED[kind])
        try:
            made = units.parse_quantity(text) if kind is units.Quantity else units.parse_spread(text)
            numbers = (made.number,) if isinstance(made, units.Quantity) else (made.low or 0.0, made.high or 0.0)
            if any(not abs(number) <= _TOO_LARGE for number in numbers):
                return self.complain(node, f"'{text}' is far too large")
        except QuantityError as error:
            return self.complain(node, str(error))
        if rule.kind is not None and (wrong := mismeasured(made, rule.kind)):
            return self.complain(node, wrong)
        return made


def mismeasured(value: units.Quantity | units.Spread, kind: units.Kind) -> str:
    """The complaint of a value whose unit does not measure this kind; empty where it does."""
    try:
        value.to(kind)
    except QuantityError:
        return f"'{value}' is not {units.KIND_WORDS[kind]}"
    return ""


def _whole(text: str) -> int | None:
    return int(text) if _WHOLE.fullmatch(text) else None


def _number(text: str) -> float | None:
    return float(text) if _NUMBER.fullmatch(text) else None


_PLAIN: dict[Any, Callable[[str], Any]] = {
    int: _whole,
    float: _number,
    bool: {"true": True, "yes": True, "false": False, "no": False}.get,
}
_EXPECTED: dict[Any, str] = {
    str: "a text",
    int: "a whole number",
    float: "a plain number",
    bool: "true or false",
    units.Quantity: "a quantity (such as 5 s)",
    units.Spread: "a range (such as ..6 s, 5 min.., 2..6 s, 300 s ± 10 %)",
}


def found(node: Node) -> str:
    """What stands there, in a few words."""
    if isinstance(node, Items):
        return "a list"
    if isinstance(node, Table):
        return "keys and values"
    if not node.text:
        return "nothing"
    return f"'{node.text}'" if len(node.text) <= 40 else f"'{node.text[:40]}…'"
