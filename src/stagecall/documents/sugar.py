"""What documents write shorter than the model says it: conditions, anchors, a step's length, readings."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from stagecall import points
from stagecall.documents.nodes import Items, Node, Scalar, Table
from stagecall.documents.walk import BAD, Path, Walker
from stagecall.documents.words import ANYTHING, Rule, WordError, call, quantity, unknown
from stagecall.documents.words import point as point_word
from stagecall.model.sequence import Anchor, Bound, Condition, Lasts, Reads
from stagecall.units import Quantity

_CONDITION = "{point: state} (such as {blower: on})"
_ANCHOR = "step, {point: state}, {call: Y1}, {call: Y1, goes: off} or {power: on}"
_LASTS = "'until expected', a time (such as 5 s) or {until: {point: state}}"


def _state(walker: Walker, key: Scalar, value: Node, path: Path) -> Any:
    """One ``point: state`` as a condition."""
    walker.places[*path, key.text] = (value.line, value.column)
    try:
        name = point_word(key.text)
    except WordError as error:
        return walker.complain(key, str(error))
    known = points.point(name)
    states = known.states if known is not None else ()
    if not states:
        return walker.complain(key, f"'{name}' is a quantity, it has no states; write 'reads'")
    if not isinstance(value, Scalar):
        return walker.expected(value, f"a state of {name} ({', '.join(states)})")
    if value.text not in states:
        return walker.complain(value, unknown(value.text, f"a state of {name}", states))
    return Condition(name, value.text)


def condition(walker: Walker, node: Node, path: Path, _rule: Rule = ANYTHING) -> Any:
    """``{point: state}``."""
    if not isinstance(node, Table) or len(node.entries) != 1:
        return walker.expected(node, _CONDITION)
    return _state(walker, *node.entries[0], path)


def conditions(walker: Walker, node: Node, path: Path, _rule: Rule = ANYTHING) -> Any:
    """``{point: state, …}``, or a list of ``{point: state}`` (where a point stands twice, or the order counts)."""
    if isinstance(node, Table):
        made = [_state(walker, key, value, path) for key, value in node.entries]
    elif isinstance(node, Items):
        made = [walker.convert(item, Condition, (*path, index)) for index, item in enumerate(node.items)]
    else:
        return walker.expected(node, f"{_CONDITION}, or a list of them")
    return tuple(one for one in made if one is not BAD)


def anchor(walker: Walker, node: Node, path: Path, _rule: Rule = ANYTHING) -> Any:
    """``step``, ``{point: state}``, ``{call: Y1}``, ``{call: Y1, goes: off}``, ``{power: on}``."""
    if isinstance(node, Scalar) and node.text == "step":
        return Anchor()
    if not isinstance(node, Table) or not node.entries:
        return walker.expected(node, _ANCHOR)
    keys = [key.text for key, _ in node.entries]
    if "call" in keys:
        return _call_anchor(walker, node)
    if keys == ["power"]:
        state = _on_off(walker, node.entries[0][1])
        return BAD if state is BAD else Anchor("power", "", state)
    if len(keys) != 1:
        return walker.expected(node, _ANCHOR)
    made = condition(walker, node, path)
    return BAD if made is BAD else Anchor("point", made.point, made.state)


def _call_anchor(walker: Walker, node: Table) -> Any:
    terminal: Any = BAD
    state: Any = "on"
    for key, value in node.entries:
        if key.text == "goes":
            state = _on_off(walker, value)
        elif key.text != "call":
            walker.complain(key, unknown(key.text, "a key here", ("call", "goes")))
        elif isinstance(value, Scalar):
            terminal = walker.word(value, Rule(word=call))
        else:
            walker.expected(value, "a terminal (such as Y1)")
    return BAD if BAD in (terminal, state) else Anchor("call", terminal, state)


def _on_off(walker: Walker, node: Node) -> Any:
    if isinstance(node, Scalar) and node.text in points.ON_OFF:
        return node.text
    return walker.expected(node, "on or off")


def lasts(walker: Walker, node: Node, path: Path, _rule: Rule = ANYTHING) -> Any:
    """``until expected``, ``5 s``, ``{until: {compressor: on}}``."""
    if isinstance(node, Scalar):
        if node.text == "until expected":
            return Lasts()
        if not node.text[:1].isdigit():
            return walker.expected(node, _LASTS)
        time = walker.measured(node, node.text, Quantity, Rule(kind="time"))
        return BAD if time is BAD else Lasts(time=time)
    if not isinstance(node, Table) or [key.text for key, _ in node.entries] != ["until"]:
        return walker.expected(node, _LASTS)
    until = condition(walker, node.entries[0][1], (*path, "until"))
    return BAD if until is BAD else Lasts(until=until)


def reads(walker: Walker, node: Node, path: Path, _rule: Rule = ANYTHING) -> Any:
    """``reads: {supply_air: 90..120 °F}``, ``at: end``, ``at: throughout``, ``at: after 5 min``."""
    if not isinstance(node, Table):
        return walker.expected(node, "keys and values")
    values: dict[str, Any] = {}
    rest = []
    for key, value in node.entries:
        at = (*path, key.text)
        if key.text == "reads":
            walker.places[at] = (key.line, key.column)
            values |= _reading(walker, value, at)
        elif key.text == "at":
            values["at"] = _at(walker, key, value, at)
        elif key.text not in _READS:
            walker.complain(key, unknown(key.text, "a key here", _READS))
        else:
            rest.append((key, value))
    common = walker.values(Table(rest, node.line, node.column), Reads, path, frozenset({"applies_if", "because"}))
    if BAD in values.values() or common is BAD:
        return BAD
    return Reads(**values, **common)


_READS = ("reads", "at", "applies_if", "because")


def _reading(walker: Walker, node: Node, path: Path) -> dict[str, Any]:
    if not isinstance(node, Table) or len(node.entries) != 1:
        return {"reads": walker.expected(node, "{quantity: range} (such as {supply_air: 90..120 °F})")}
    key, value = node.entries[0]
    try:
        name = quantity(key.text)
    except WordError as error:
        return {"reads": walker.complain(key, str(error))}
    known = points.point(name)
    rule = Rule(kind=known.quantity if known is not None else None)
    return {"reads": name, "range": walker.convert_entry(key, value, Bound, (*path, name), rule)}


def _at(walker: Walker, key: Scalar, node: Node, path: Path) -> Any:
    walker.places[path] = (node.line, node.column)
    if isinstance(node, Scalar):
        if node.text in ("end", "throughout"):
            return node.text
        if node.text.startswith("after "):
            return walker.measured(node, node.text.removeprefix("after "), Quantity, Rule(kind="time"))
    return walker.expected(node, f"'{key.text}' as end, throughout or a time (such as after 5 min)")


SUGAR: dict[Any, Callable[[Walker, Node, Path, Rule], Any]] = {
    Condition: condition,
    tuple[Condition, ...]: conditions,
    Anchor: anchor,
    Lasts: lasts,
    Reads: reads,
}
