from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from stagecall.documents import KINDS, Library, load, nodes, parse, resolve_monitor, resolve_sequence
from stagecall.documents.library import library_folder
from stagecall.errors import DocumentError
from stagecall.model.sequence import Limit, Monitor, Sequence, Step

LIBRARY = Library()
FILES = [(kind, name) for kind in KINDS for name in LIBRARY.names(kind)]
SEQUENCES = [LIBRARY.load("sequence", name) for name in LIBRARY.names("sequence")]
MONITORS = [LIBRARY.load("monitor", name) for name in LIBRARY.names("monitor")]


def test_the_library_holds_what_a_split_system_is_commissioned_with() -> None:
    assert {
        "at-rest", "one-call-one-load", "fan", "cool-one-stage", "compressor-minimum-off",
        "minimum-off-after-power-loss", "gas-heat-one-stage", "limit-opens", "pressure-switch-opens",
    } <= set(LIBRARY.names("sequence"))  # fmt: skip
    assert {"compressor-protection", "heat-against-cool", "burner-with-draft"} <= set(LIBRARY.names("monitor"))


@pytest.mark.parametrize(("kind", "name"), FILES)
def test_every_file_of_the_library_can_be_read(kind: str, name: str) -> None:
    loaded = LIBRARY.load(kind, name)

    assert loaded is LIBRARY.load(kind, name)
    assert loaded.document == LIBRARY.load(kind, loaded.file).document


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda one: one.document.sequence)
def test_every_sequence_lies_in_the_folder_of_its_group(sequence: object) -> None:
    assert Path(sequence.file).parent.name == sequence.document.group


@pytest.mark.parametrize("sequence", SEQUENCES, ids=lambda one: one.document.sequence)
def test_every_sequence_fits_together_with_everything_at_its_default(sequence: object) -> None:
    plan = resolve_sequence(sequence, None, {}, LIBRARY)

    assert all(step.because for step in plan.steps)
    assert plan.not_applicable == ""


@pytest.mark.parametrize("system", LIBRARY.names("system"))
def test_everything_resolves_on_every_system_and_what_must_run_applies(system: str) -> None:
    loaded = LIBRARY.load("system", system)
    profiles = LIBRARY.profiles(loaded.document)

    plans = {one.document.sequence: resolve_sequence(one, loaded, profiles, LIBRARY) for one in SEQUENCES}
    monitors = [resolve_monitor(one, loaded, profiles, LIBRARY) for one in MONITORS]

    assert [name for name in loaded.document.must_run if plans[name].not_applicable] == []
    assert any(not monitor.not_applicable for monitor in monitors)


def _limits() -> list[tuple[str, Limit]]:
    documents = [*SEQUENCES, *MONITORS, *(LIBRARY.load("block", name) for name in LIBRARY.names("block"))]
    return [
        (f"{Path(one.file).stem}.{name}", limit) for one in documents for name, limit in one.document.limits.items()
    ]


@pytest.mark.parametrize(("where", "limit"), _limits())
def test_every_limit_tells_its_source_in_words(where: str, limit: Limit) -> None:
    assert len(limit.source.split()) >= 4, where
    assert ".md" not in limit.source


def test_every_step_of_the_library_says_why() -> None:
    blocks = [LIBRARY.load("block", name) for name in LIBRARY.names("block")]
    silent = [
        f"{one.file}: {step.step}"
        for one in (*SEQUENCES, *blocks)
        for step in one.document.steps
        if isinstance(step, Step) and not step.because
    ]

    assert silent == []


@pytest.mark.parametrize(("kind", "name"), FILES)
def test_without_the_quick_yaml_reader_the_same_document_comes_out(
    kind: str, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    quick = LIBRARY.load(kind, name)
    monkeypatch.setattr(nodes, "_Loader", yaml.SafeLoader)

    slow = load(KINDS[kind], quick.file)

    assert (slow.document, slow.places) == (quick.document, quick.places)


def test_the_library_is_found_in_a_checkout() -> None:
    folder = library_folder()

    assert (folder / "sequences").is_dir()
    assert (folder / "sim").is_dir()


def _read(kind: type, data: bytes) -> None:
    """Either a document or its complaints; anything else that is raised fails the test."""
    complaints = None
    try:
        parse(kind, data, "one.yaml")
    except DocumentError as error:
        complaints = error.complaints
    assert complaints is None or complaints
    assert all(one.line >= 1 and one.column >= 1 and one.text for one in complaints or ())


@given(st.sampled_from([*KINDS.values()]), st.binary(max_size=300))
@settings(max_examples=100, deadline=None)
def test_random_bytes_give_complaints_and_nothing_else(kind: type, data: bytes) -> None:
    _read(kind, data)


@given(
    st.sampled_from([Sequence, Monitor]), st.text(st.sampled_from("ab:{}[],-&*!|>'\"#%@`? \n\t<=.0123°"), max_size=120)
)
@settings(max_examples=200, deadline=None)
def test_random_yaml_gives_complaints_and_nothing_else(kind: type, text: str) -> None:
    _read(kind, text.encode())


@pytest.mark.parametrize(("kind", "name"), FILES)
def test_a_mangled_library_file_gives_complaints_and_nothing_else(kind: str, name: str) -> None:
    data = Path(LIBRARY.load(kind, name).file).read_bytes()
    chance = random.Random(name)
    for _ in range(12):
        cut = chance.randrange(len(data))
        place, length = chance.randrange(len(data)), chance.randrange(8)
        _read(KINDS[kind], data[:cut])
        _read(KINDS[kind], data[:place] + data[place + length :])
        _read(
            KINDS[kind], data[:place] + chance.choice([b"{", b"[", b":", b"\n  ", b"\x00", b"9" * 400]) + data[place:]
        )
        _read(KINDS[kind], data[:place] + data[cut : cut + 40] + data[place:])


def test_nothing_deeply_nested_or_long_gets_through() -> None:
    for text in ("[" * 100_000, "{a: " * 100_000, "- " * 100_000, "a: " + "9" * 500_000, "? " * 5_000):
        _read(Sequence, text.encode())
