from __future__ import annotations

import ast
import inspect
import re
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from complaints import CASES, Case
from resolutions import RESOLUTIONS

from stagecall.documents import Library, checks, limits, load, nodes, parse, resolve, sugar, walk, words
from stagecall.errors import DocumentError, NotInLibraryError, UsageError
from stagecall.model.kit import Kit

_KIT = b"kit: one\ntitle: One\npoints: {}\n"
_BYTES = (
    (b"\xef\xbb\xbfkit: one\ntitle: caf\xe9\npoints: {}\n", "2:11: byte 0xe9 is not UTF-8"),
    (b"\xff\xfek\x00i\x00t\x00", "1:1: byte 0xff is not UTF-8"),
    (b"#" * (1024 * 1024 + 1), "1:1: the file is larger than 1024 KiB"),
)

_SAID_ELSEWHERE = (
    "1:8: expected a plain number, found 'much'",  # below
    "no document can hold a <class 'bytes'>",  # below
    "maker data",  # no complaints; these stand in resolved limits and plans, see test_resolution.py
    "never below 2:50 min, never above 8 min",
    "needs outdoor air 65.0 °F to 115.0 °F (now 41.0 °F)",
)


def said_of(kind: type, data: bytes) -> tuple[str, ...]:
    with pytest.raises(DocumentError) as caught:
        parse(kind, data, "one.yaml")
    lines = [str(complaint) for complaint in caught.value.complaints]
    assert str(caught.value) == "\n".join(lines)
    return tuple(line.removeprefix("one.yaml:") for line in lines)


@pytest.mark.parametrize("case", CASES, ids=[case.title for case in CASES])
def test_every_complaint_of_a_file_is_made_in_one_go_with_its_place(case: Case) -> None:
    assert said_of(case.kind, case.text.encode()) == case.said


@pytest.mark.parametrize("case", CASES, ids=[case.title for case in CASES])
def test_windows_line_ends_change_no_place(case: Case) -> None:
    assert said_of(case.kind, case.text.replace("\n", "\r\n").encode()) == case.said


@pytest.mark.parametrize(("data", "said"), _BYTES)
def test_bytes_that_are_no_text_are_complained_of(data: bytes, said: str) -> None:
    assert said_of(Kit, data) == (said,)


def test_a_byte_order_mark_is_not_part_of_the_text() -> None:
    loaded = parse(Kit, b"\xef\xbb\xbf" + _KIT, "one.yaml")

    assert (loaded.raw, loaded.places["title",]) == (_KIT.decode(), (2, 8))


def test_a_file_bears_the_name_of_what_is_in_it(tmp_path: Path) -> None:
    file = tmp_path / "two.yaml"
    file.write_bytes(_KIT)

    with pytest.raises(DocumentError) as caught:
        load(Kit, file)

    assert str(caught.value) == f"{file}:1:6: 'one' stands in a file of another name; call the file 'one.yaml'"


def test_a_file_that_is_not_there_is_a_usage_error(tmp_path: Path) -> None:
    with pytest.raises(UsageError) as caught:
        load(Kit, tmp_path / "one.yaml")

    assert str(caught.value) == f"{tmp_path / 'one.yaml'}: No such file or directory"


def test_a_name_that_the_library_lacks_names_the_nearest(tmp_path: Path) -> None:
    (tmp_path / "sim" / "kits").mkdir(parents=True)
    (tmp_path / "sim" / "kits" / "full.yaml").write_bytes(_KIT.replace(b"one", b"full"))
    library = Library(tmp_path)

    said = []
    for kind, name in (("kit", "fulll"), ("kit", "zzz"), ("fault", "zzz")):
        with pytest.raises(NotInLibraryError) as caught:
            library.load(kind, name)
        said.append(str(caught.value))

    assert said == [
        "no kit is called 'fulll'; did you mean 'full'?",
        "no kit is called 'zzz'; known: full",
        "no fault is called 'zzz'; known: none",
    ]


class _Measure(msgspec.Struct):
    size: float
    raw: bytes = b""


def test_any_struct_can_be_read_and_a_type_that_no_document_can_hold_is_a_programming_error() -> None:
    assert parse(_Measure, b"size: -1.5", "one.yaml").document == _Measure(-1.5)
    assert said_of(_Measure, b"size:  much") == ("1:8: expected a plain number, found 'much'",)
    with pytest.raises(TypeError, match="no document can hold a <class 'bytes'>"):
        parse(_Measure, b"size: 1\nraw: 2", "one.yaml")


def _messages(module: object) -> Iterator[tuple[str, re.Pattern[str]]]:
    """Every text of a module that reads like a sentence, its filled-in places open."""
    tree = ast.parse(inspect.getsource(module))  # type: ignore[arg-type]
    silent = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    silent |= {
        id(node.args[0]) for node in ast.walk(tree) if isinstance(node, ast.Call) and "compile" in ast.dump(node.func)
    }
    inside = {
        id(part)
        for node in ast.walk(tree)
        if isinstance(node, ast.JoinedStr)
        for part in ast.walk(node)
        if part is not node
    }
    for node in ast.walk(tree):
        if id(node) in silent or id(node) in inside:
            continue
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            parts = [node.value]
        elif isinstance(node, ast.JoinedStr):
            parts = [part.value if isinstance(part, ast.Constant) else None for part in node.values]
        else:
            continue
        if " " in "".join(part or "" for part in parts).strip():
            text = "".join(".*" if part is None else re.escape(part) for part in parts)
            yield f"{module.__name__}:{node.lineno}", re.compile(text)  # type: ignore[attr-defined]


def test_every_message_of_the_formats_has_a_case() -> None:
    said = [line for case in (*CASES, *RESOLUTIONS) for line in case.said]
    said += [line for _, line in _BYTES] + [*_SAID_ELSEWHERE]

    without = [
        f"{where}: {pattern.pattern}"
        for module in (nodes, walk, sugar, words, checks, limits, resolve)
        for where, pattern in _messages(module)
        if not any(pattern.search(line) for line in said)
    ]

    assert without == []
