"""JSON Schema (draft 2020-12) of each kind of document, made from what the walker follows: structs, words, short forms.

A value is written without quotes and read as text; an editor that types it first sees a number or a truth value, so
those are let through where a text like that would be. What must agree between places (limits named and used, windows
and steps) no schema can say.
"""

from __future__ import annotations

import inspect
import types
from collections.abc import Callable, Iterable
from typing import Any, Literal, Union, get_args, get_origin

import msgspec

from stagecall import points, units
from stagecall.documents import sugar, words
from stagecall.documents.walk import fields
from stagecall.documents.words import ANYTHING, RULES, Rule, Word, WordError
from stagecall.model.equipment import EquipmentKind
from stagecall.model.sequence import Anchor, Bound, Condition, Lasts, Reads
from stagecall.points import ON_OFF, Point

Schema = dict[str, Any]

DRAFT = "https://json-schema.org/draft/2020-12/schema"
VOCABULARY: tuple[str, ...] = (
    *points.POINTS, *points.TERMINALS, *points.TERMINAL_ALIASES, *get_args(EquipmentKind), *words.FIGURES,
)  # fmt: skip
"""Every word that some rule may ask for."""

_NUMBER = r"[+-]?[0-9]+(?:\.[0-9]+)?"
_WORD: Schema = {"type": "string", "pattern": "^[A-Za-z]"}
_TEXT: Schema = {"type": ["string", "number", "boolean", "null"]}
_PLAIN: dict[Any, Schema] = {
    str: _TEXT,
    int: {"type": ["string", "integer"], "pattern": r"^[+-]?[0-9]{1,9}$"},
    float: {"type": ["string", "number"], "pattern": r"^[+-]?[0-9]{1,9}(?:\.[0-9]{1,9})?$"},
    bool: {"enum": ["true", "yes", "false", "no", True, False]},
}


def schema(kind: type) -> Schema:
    """The schema of the documents that become this struct."""
    maker = _Maker()
    root = maker.struct(kind)
    return {"$schema": DRAFT, "title": f"Stagecall {kind.__name__.lower()}", **root, "$defs": maker.defined}


def known_words(word: Word) -> tuple[str, ...]:
    """All words, but those with a number, that a rule takes."""
    return tuple(dict.fromkeys(one for one in VOCABULARY if _takes(word, one)))


def _takes(word: Word, text: str) -> bool:
    try:
        word(text)
    except WordError:
        return False
    return True


class _Maker:
    """Makes the schema of one kind; structs once each, under ``$defs``."""

    def __init__(self) -> None:
        self.defined: dict[str, Schema] = {}

    def value(self, kind: Any, rule: Rule = ANYTHING) -> Schema:
        """What :meth:`stagecall.documents.walk.Walker.convert` takes for a value of that type."""
        if kind in sugar.SUGAR:
            return self._defined(_name(kind), lambda: {"description": _told(sugar.SUGAR[kind])} | _SHORT[kind](self))
        origin = get_origin(kind)
        if origin in (Union, types.UnionType):
            made = self._union([one for one in get_args(kind) if one is not type(None)], rule)
        elif origin is Literal:
            made = {"enum": list(get_args(kind))}
        elif origin is tuple:
            made = self._tuple(get_args(kind), rule)
        elif origin is dict:
            made = self._table(get_args(kind), rule)
        elif kind is units.Quantity:
            made = quantity(rule.kind)
        elif kind is units.Spread:
            made = spread(rule.kind)
        elif isinstance(kind, type) and issubclass(kind, msgspec.Struct):
            made = self._defined(kind.__name__, lambda: self.struct(kind))
        elif kind is str and rule.word is not None:
            made = _one_of(rule.word)
        else:
            made = _PLAIN[kind]
        return made

    def struct(self, kind: type, keys: Iterable[str] | None = None) -> Schema:
        """A table with the struct's keys; *keys* names those that may be written, where not all may."""
        known = {key: info for key, info in fields(kind).items() if keys is None or key in keys}
        return {
            "description": _told(kind),
            "type": "object",
            "properties": {
                key: self.value(info.type, RULES.get((kind, info.name), ANYTHING)) for key, info in known.items()
            },
            "required": [key for key, info in known.items() if info.required],
            "additionalProperties": False,
        }

    def _defined(self, name: str, make: Callable[[], Schema]) -> Schema:
        if name not in self.defined:
            self.defined[name] = {}  # so that what holds itself ends
            self.defined[name] = make()
        return {"$ref": f"#/$defs/{name}"}

    def _union(self, kinds: list[Any], rule: Rule) -> Schema:
        if len(kinds) == 1:
            return self.value(kinds[0], rule)
        made = [
            _WORD if one is str and rule.word is None and _measured(kinds) else self.value(one, rule) for one in kinds
        ]
        return {"anyOf": made}

    def _tuple(self, kinds: tuple[Any, ...], rule: Rule) -> Schema:
        if kinds[-1] is Ellipsis:
            return {"type": "array", "items": self.value(kinds[0], rule)}
        each = [self.value(one, rule) for one in kinds]
        return {"type": "array", "prefixItems": each, "items": False, "minItems": len(kinds)}

    def _table(self, kinds: tuple[Any, ...], rule: Rule) -> Schema:
        key, kind = kinds
        if get_origin(key) is Literal:
            known = get_args(key)
            return self._defined("_or_".join(known), lambda: _keyed(dict.fromkeys(known, self.value(kind))))
        if rule.word is None:
            return {"type": "object", "additionalProperties": self.value(kind, rule.inside or ANYTHING)}
        known = known_words(rule.word)
        if rule.by_point:
            return _keyed({name: self.value(kind, Rule(kind=points.kind_of(name))) for name in known})
        inside = self.value(kind, rule.inside or ANYTHING)
        return _keyed(dict.fromkeys(known, inside), numbered=_numbered(rule.word, lambda _: inside))

    # -- short forms: what stands in sugar.py, in its order -----------------------------------------------------------

    def condition(self) -> Schema:
        """One of the states."""
        return self.states() | {"minProperties": 1, "maxProperties": 1}

    def states(self) -> Schema:
        """Points that have states, each with one of them."""
        with_states = {name: {"enum": list(one.states)} for name, one in points.POINTS.items() if one.states}
        return _keyed(with_states, numbered=_numbered(words.point, lambda one: {"enum": list(one.states)}))

    def conditions(self) -> Schema:
        """As they are written together, or one by one."""
        return {"anyOf": [self.states(), {"type": "array", "items": self.value(Condition)}]}

    def anchor(self) -> Schema:
        """A step, a condition, a call, the power."""
        state: Schema = {"enum": list(ON_OFF)}
        call = _keyed({"call": _one_of(words.call), "goes": state}) | {"required": ["call"]}
        power = _keyed({"power": state}) | {"required": ["power"]}
        return {"anyOf": [{"const": "step"}, self.value(Condition), call, power]}

    def lasts(self) -> Schema:
        """A word, a time, or a condition."""
        until = _keyed({"until": self.value(Condition)}) | {"required": ["until"]}
        return {"anyOf": [{"const": "until expected"}, quantity("time"), until]}

    def reads(self) -> Schema:
        """The form that no struct tells of."""
        moments = [word for one in get_args(fields(Reads)["at"].type) for word in get_args(one)]
        read = {name: self.value(Bound, Rule(kind=points.kind_of(name))) for name in known_words(words.quantity)}
        numbered = _numbered(words.quantity, lambda one: self.value(Bound, Rule(kind=one.quantity)))
        made = self.struct(Reads, fields(Reads).keys() - {"reads", "range", "at"})
        made["properties"] |= {
            "reads": _keyed(read, numbered) | {"minProperties": 1, "maxProperties": 1},
            "at": {"anyOf": [{"enum": moments}, _matching(_quantity("time"), before="after ")]},
        }
        return made | {"required": ["reads"]}


_SHORT: dict[Any, Callable[[_Maker], Schema]] = {
    Condition: _Maker.condition,
    tuple[Condition, ...]: _Maker.conditions,
    Anchor: _Maker.anchor,
    Lasts: _Maker.lasts,
    Reads: _Maker.reads,
}
"""The schema of each short form; as many as ``sugar.SUGAR`` has."""


def quantity(kind: units.Kind | None) -> Schema:
    """``5 s``, in a unit of that kind."""
    return _matching(_quantity(kind)) | _number_too(kind)


def spread(kind: units.Kind | None) -> Schema:
    """``..6 s``, ``5 min..``, ``2..6 s``, ``300 s ± 10 %`` or ``5 s``, in a unit of that kind."""
    unit, maybe = _unit(kind), _unit(kind, needed=False)
    ends = (
        rf"{_NUMBER} *{unit} *\.\.(?: *{_NUMBER} *{maybe})?",
        rf"(?:{_NUMBER} *)?\.\. *{_NUMBER} *{unit}",
        rf"{_NUMBER} *{unit} *(?:±|\+/-) *{_NUMBER} *(?:{unit}|%)?",
    )
    return _matching("|".join((*ends, _quantity(kind)))) | _number_too(kind)


def _quantity(kind: units.Kind | None) -> str:
    return f"{_NUMBER} *{_unit(kind)}"


def _unit(kind: units.Kind | None, *, needed: bool = True) -> str:
    known = units.units_of(kind)
    named = "|".join(unit.replace(".", r"\.") for unit in known if unit)
    optional = "" if needed and "" not in known else "?"
    return f"(?:{named}){optional}" if named else ""


def _matching(pattern: str, before: str = "") -> Schema:
    return {"type": "string", "pattern": f"^(?=.{{0,60}}$) *{before}(?:{pattern}) *$"}


def _number_too(kind: units.Kind | None) -> Schema:
    return {"type": ["string", "number"]} if "" in units.units_of(kind) else {}


def _measured(kinds: list[Any]) -> bool:
    return units.Quantity in kinds or units.Spread in kinds


def _keyed(properties: dict[str, Schema], numbered: dict[str, Schema] | None = None) -> Schema:
    made: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return made | {"patternProperties": numbered} if numbered else made


def _one_of(word: Word) -> Schema:
    known: Schema = {"enum": list(known_words(word))}
    with_number = [{"type": "string", "pattern": pattern} for pattern in _numbered(word, lambda _: {})]
    return {"anyOf": [known, *with_number]} if with_number else known


def _numbered(word: Word, inside: Callable[[Point], Schema]) -> dict[str, Schema]:
    """A pattern for each device that may bear a number, and what stands under it."""
    return {
        f"^{name}_[0-9]+$": inside(points.POINTS[name])
        for name in sorted(points.NUMBERED & points.POINTS.keys())
        if _takes(word, f"{name}_1")
    }


def _name(kind: Any) -> str:
    return kind.__name__ if isinstance(kind, type) and get_origin(kind) is None else "Conditions"


def _told(what: Any) -> str:
    return inspect.cleandoc(what.__doc__ or "").replace("``", "`")
