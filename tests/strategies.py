"""Builders of random values for property tests: any line of a log, any struct of the model.

A new kind of line joins by itself: builders follow the types of its fields.
"""

from __future__ import annotations

import types
from collections.abc import Callable
from enum import Enum
from typing import Any, Literal, Union, get_args, get_origin

import msgspec
from hypothesis import strategies as st

from stagecall.model.event import AnyLine, Header, Seal

MOMENTS = st.integers(0, 10**12)
"""Milliseconds since a run began, up to thirty years."""
WORDS = st.text(st.characters(exclude_categories=["Cs"]), max_size=12)
_JSON = st.recursive(st.none() | st.booleans() | st.integers(-9, 9) | WORDS, lambda inner: st.lists(inner, max_size=3))

LINE_TYPES: tuple[type[AnyLine], ...] = get_args(AnyLine)

_SCALARS: dict[Any, st.SearchStrategy[Any]] = {
    int: st.integers(-(2**53), 2**53),
    float: st.floats(allow_nan=False, allow_infinity=False),
    str: WORDS,
    bool: st.booleans(),
    type(None): st.none(),
    msgspec.Raw: _JSON.map(msgspec.json.encode).map(msgspec.Raw),
}


def of(kind: Any) -> st.SearchStrategy[Any]:
    """Values of a type as msgspec knows it: scalars, literals, enums, structs, tuples, lists, dicts and unions."""
    if kind in _SCALARS:
        return _SCALARS[kind]
    origin, parts = get_origin(kind), get_args(kind)
    if origin is not None:
        return _COMPOSED[origin](parts)
    return st.sampled_from(kind) if issubclass(kind, Enum) else struct(kind)


def _tuples(parts: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    if parts[-1] is Ellipsis:
        return st.lists(of(parts[0]), max_size=3).map(tuple)
    return st.tuples(*[of(part) for part in parts])


def _unions(parts: tuple[Any, ...]) -> st.SearchStrategy[Any]:
    return st.one_of([of(part) for part in parts])


_COMPOSED: dict[Any, Callable[[tuple[Any, ...]], st.SearchStrategy[Any]]] = {
    Literal: st.sampled_from,
    Union: _unions,
    types.UnionType: _unions,
    tuple: _tuples,
    list: lambda parts: st.lists(of(parts[0]), max_size=3),
    dict: lambda parts: st.dictionaries(of(parts[0]), of(parts[1]), max_size=3),
}


def struct(kind: type[msgspec.Struct], **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Values of a struct; *given* fields are drawn as told."""
    fields = {field.name: of(field.type) for field in msgspec.structs.fields(kind) if field.name not in given}
    return st.builds(kind, **fields, **given)


def line(kind: type[AnyLine], **given: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Lines of one kind, numbered and timed as they can stand in a log."""
    return struct(kind, **{"n": MOMENTS, "t": MOMENTS, **given})


def lines() -> st.SearchStrategy[AnyLine]:
    """Any line of any kind."""
    return st.one_of([line(kind) for kind in LINE_TYPES])


def headers() -> st.SearchStrategy[Header]:
    """A log's first line."""
    return line(Header, n=st.just(-1), t=st.just(0), format=st.just(1))


def bodies(max_size: int = 12) -> st.SearchStrategy[list[AnyLine]]:
    """What follows a header before it is appended: unnumbered lines in the order of time, without seals."""
    one = st.one_of([line(kind, n=st.just(-1)) for kind in LINE_TYPES if kind not in {Header, Seal}])
    return st.lists(one, max_size=max_size).map(lambda some: sorted(some, key=lambda each: each.t))
