"""The schemas that are printed for editors: the whole library fits them, and what the walker refuses they refuse."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import jsonschema
import pytest
import yaml
from complaints import SHORT_FORMS, WORDS_AND_TYPES, Case

from stagecall.cli import main
from stagecall.documents import KINDS, Library, parse, schema, sugar, words
from stagecall.documents.nodes import read_nodes
from stagecall.documents.walk import Walker
from stagecall.errors import DocumentError

LIBRARY = Library()
CHECKERS = {struct: jsonschema.Draft202012Validator(schema.schema(struct)) for struct in KINDS.values()}
PLACES = 8
"""Places tried of each kind of document."""


def as_texts(text: str) -> Any:
    return yaml.load(text, yaml.CBaseLoader)  # noqa: S506 - the plain loader: text, lists and tables


@pytest.mark.parametrize("kind", KINDS)
def test_a_schema_is_one_of_its_draft(kind: str) -> None:
    jsonschema.Draft202012Validator.check_schema(schema.schema(KINDS[kind]))


@pytest.mark.parametrize("kind", KINDS)
def test_the_whole_library_fits_its_schema(kind: str) -> None:
    wrong = [
        f"{name}: {jsonschema.exceptions.best_match([error]).message[:200]}"
        for name in LIBRARY.names(kind)
        for error in CHECKERS[KINDS[kind]].iter_errors(as_texts(LIBRARY.find(kind, name).read_text("utf-8")))
    ]

    assert wrong == []


@pytest.mark.parametrize("case", [*WORDS_AND_TYPES, *SHORT_FORMS], ids=lambda case: case.title)
def test_what_is_wrong_by_itself_is_refused_by_the_schema_too(case: Case) -> None:
    assert not CHECKERS[case.kind].is_valid(as_texts(case.text))


SEQUENCE = """\
sequence: one
title: One
purpose: Something
group: cool
needs: {calls: [Y], points: [strip_2], switches: [limit]}
conditions: {outdoor_air: 65..115 °F}
limits:
  answer: {default: 300 s ± 10 %, source: somebody, maker_data: brown_out_return_delay, allow: 5 s}
starts: {compressor: off, reversing_valve: heat}
steps:
  - use: begin
  - step: First
    call: [Y1, G]
    lasts: {until: {compressor: on}}
    keep: 3 min
    set: {outdoor_air: 40 °F}
    expect:
      - turns: {compressor: on}
        within: answer
        since: {call: Y1, goes: off}
      - order: [{inducer: on}, {zone_valve_1: on}]
        gaps: [..6 s]
      - never: {blower: on, gas_valve: on}
      - reads: {supply_air: 90..120 °F}
        at: after 5 min
      - times: {ignitor: on}
        count: 3
        per: 1 h
"""
SLIPS = (
    ("title: One", "titel: One"),
    ("title: One\n", ""),
    ("group: cool", "group: cooling"),
    ("calls: [Y]", "calls: [Y3]"),
    ("calls: [Y]", "calls: Y"),
    ("strip_2", "stripe_2"),
    ("strip_2", "flame_2"),
    ("switches: [limit]", "switches: [blower]"),
    ("{outdoor_air: 65..115 °F}", "{outdoor_air: 65..115 V}"),
    ("{outdoor_air: 65..115 °F}", "{blower: 65..115 °F}"),
    ("300 s ± 10 %", "300 s ± "),
    ("300 s ± 10 %", "5 sec"),
    ("300 s ± 10 %", ".."),
    ("brown_out_return_delay", "brown_out_delay"),
    ("allow: 5 s", "allows: 5 s"),
    ("compressor: off,", "compressor: of,"),
    ("reversing_valve: heat", "reversing_valve: on"),
    ("use: begin", "uses: begin"),
    ("call: [Y1, G]", "calls: [Y1, G]"),
    ("{until: {compressor: on}}", "until compressor on"),
    ("{until: {compressor: on}}", "{until: {compressor: on, blower: on}}"),
    ("keep: 3 min", "keep: 3"),
    ("keep: 3 min", "keep: 3 V"),
    ("set: {outdoor_air: 40 °F}", "set: {outdoor_air: 5 s}"),
    ("turns: {compressor: on}", "turns: {compresor: on}"),
    ("turns: {compressor: on}", "turn: {compressor: on}"),
    ("within: answer", "withn: answer"),
    ("within: answer\n", "usual: ..5 s\n"),
    ("since: {call: Y1, goes: off}", "since: {call: Y1, goes: down}"),
    ("since: {call: Y1, goes: off}", "since: beginning"),
    ("zone_valve_1", "zone_valve_x"),
    ("gaps: [..6 s]", "gaps: ..6 s"),
    ("blower: on, gas_valve: on", "blower: on, gas_valve: open"),
    ("supply_air: 90..120 °F", "supply_air: 90..120 V"),
    ("supply_air: 90..120 °F", "compressor: 90..120 °F"),
    ("at: after 5 min", "at: noon"),
    ("count: 3", "count: 3 s"),
    ("per: 1 h", "per: 1 F"),
)


def test_what_is_right_fits() -> None:
    CHECKERS[KINDS["sequence"]].validate(as_texts(SEQUENCE))
    parse(KINDS["sequence"], SEQUENCE.encode(), "one.yaml")


@pytest.mark.parametrize(("right", "wrong"), SLIPS)
def test_each_slip_alone_is_refused(right: str, wrong: str) -> None:
    text = SEQUENCE.replace(right, wrong, 1)

    assert text != SEQUENCE
    assert not CHECKERS[KINDS["sequence"]].is_valid(as_texts(text))
    with pytest.raises(DocumentError):
        parse(KINDS["sequence"], text.encode(), "one.yaml")


def misspelt(document: Any) -> Iterator[tuple[str, Any]]:
    """The document with a word of it misspelt, once for each."""
    entries = document.items() if isinstance(document, dict) else enumerate(document)
    for key, value in entries:
        if isinstance(key, str):
            yield key, {f"{name}zz" if name == key else name: one for name, one in document.items()}
        if isinstance(value, str):
            changed: Iterator[tuple[str, Any]] = iter([(value, f"{value}zz")])
        else:
            changed = misspelt(value)
        for what, other in changed:
            copy = dict(document) if isinstance(document, dict) else list(document)
            copy[key] = other  # type: ignore[index]
            yield f"{key}/{what}", copy


@pytest.mark.parametrize("kind", KINDS)
def test_of_a_misspelt_word_walker_and_schema_think_alike(kind: str) -> None:
    """But for what hangs on another place of the file, which only the walker's checks can tell."""
    name = max(LIBRARY.names(kind), key=lambda one: len(LIBRARY.load(kind, one).raw))
    tried = list(misspelt(as_texts(LIBRARY.load(kind, name).raw)))
    apart = []
    for place, document in tried[:: max(1, len(tried) // PLACES)]:
        text = yaml.safe_dump(document, allow_unicode=True, sort_keys=False)
        taken = walked(KINDS[kind], text)
        if CHECKERS[KINDS[kind]].is_valid(as_texts(text)) != taken:
            apart.append(f"{name} {place}: {'only the walker takes it' if taken else 'only the schema takes it'}")

    assert apart == []


def walked(struct: type, text: str) -> bool:
    """Whether the walker alone, without the checks that come after it, takes the text."""
    _, root, complaints = read_nodes(text.encode(), "one.yaml")
    walker = Walker("one.yaml", sugar.SUGAR)
    assert root is not None
    walker.convert(root, struct, ())
    return not complaints and not walker.complaints


def test_every_short_form_and_every_word_rule_has_its_part_in_a_schema() -> None:
    assert schema._SHORT.keys() == sugar.SUGAR.keys()
    rules = [rule for rule in words.RULES.values() if rule.word is not None]
    assert all(schema.known_words(rule.word) for rule in rules if rule.word is not None)


def test_an_editor_that_has_typed_plain_numbers_already_is_not_contradicted() -> None:
    typed = as_texts(SEQUENCE)
    typed["steps"][1]["aux"] = 1
    typed["steps"][1]["expect"][4]["count"] = 3
    typed["title"] = 5

    CHECKERS[KINDS["sequence"]].validate(typed)


def test_the_command_prints_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(("schema", "kit")) == 0
    assert json.loads(capsys.readouterr().out) == schema.schema(KINDS["kit"])


def test_a_kind_that_is_none_ends_with_2_and_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(("schema", "sequnce")) == 2
    assert capsys.readouterr().err == "stagecall: 'sequnce' is not a kind of file; did you mean 'sequence'?\n"
