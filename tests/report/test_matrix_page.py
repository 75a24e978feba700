"""The matrix page of a cover run."""

from __future__ import annotations

import io
from html.parser import HTMLParser

import pytest

from stagecall.report.cover import drawn
from stagecall.report.matrix import MARKS, as_page
from stagecall.run.catalogue import Entry
from stagecall.run.cover import OUTCOMES, Cover, cover
from stagecall.run.results import Healthy, Tried
from stagecall.run.trace import Envelope
from stagecall.run.trial import Failure

COIL = Entry("coil-open@unit.coil", "coil-open", "contactor")
SLOW = Entry("slow@unit.board", "slow", "board")
DUMB = Entry("dumb<b>@unit.board", "dumb<b>", "board")


def tried(entry: Entry, sequence: str, *, left: str = "", fails: str = "", about: str = "", broken: str = "") -> Tried:
    return Tried(
        system="house",
        kit="full",
        sequence=sequence,
        fault=entry.text,
        left=tuple(left.split()),
        failures=tuple(Failure(sequence, name, tuple((about or left).split())) for name in fails.split()),
        broken=broken,
    )


def found() -> Cover:
    draws = [
        Healthy(
            system="house",
            kit="full",
            sequence=name,
            seeds=(0, 1),
            envelope=Envelope(),
            alarms=("seed 1: cool/a",) if name == "cool" else (),
            unverified=("cool/b: not observed",),
            not_verified=1,
        )
        for name in ("cool", "fan")
    ]
    return cover(
        draws,
        [
            tried(COIL, "cool", left="compressor", fails="a"),
            tried(COIL, "fan", fails="a", about="blower"),
            tried(SLOW, "cool", left="outdoor_fan"),
            tried(SLOW, "fan", left="blower", broken=""),
            tried(DUMB, "cool", broken="no such <part>"),
        ],
        {"house": [COIL, SLOW, DUMB]},
    )


class Reading(HTMLParser):
    """The texts of a page's cells by row, and every tag and attribute that it uses."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []
        self.words = ""
        self._in_cell = False
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs
        if tag == "tr":
            self.rows.append([])
        if tag in ("td", "th"):
            self.rows[-1].append("")
            self._in_cell = True

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th"):
            self._in_cell = False

    def handle_data(self, data: str) -> None:
        self.words += data
        if self._in_cell:
            self.rows[-1][-1] += data.strip()

    def row(self, first: str) -> list[str]:
        return next(row for row in self.rows if row[0] == first)


@pytest.fixture(scope="module")
def page() -> Reading:
    return Reading(as_page(found()))


def test_each_fault_has_a_row_and_each_sequence_a_column(page: Reading) -> None:
    assert ["fault", "cool", "fan"] in page.rows
    assert page.row(COIL.text) == [COIL.text, "C", "F"]
    assert page.row(SLOW.text) == [SLOW.text, "M", "M"]
    assert page.row(DUMB.text) == [DUMB.text, "?", "-"]
    assert page.row("caught") == ["caught", "1", "0"]


def test_every_outcome_has_a_mark_of_its_own() -> None:
    assert set(MARKS) == set(OUTCOMES)
    assert len(set(MARKS.values())) == len(MARKS)


def test_the_page_tells_all_figures_of_a_kit(page: Reading) -> None:
    assert page.row("full") == ["full", "3", "2", "1", "50.0 %", "50.0 %", "50.0 %", "100.0 %", "100.0 %"]
    assert page.row("board") == ["board", "1", "0", "0.0 %"]
    assert page.row("slow") == ["slow", "1", "0", "0.0 %"]
    assert "slow@unit.board on house: it shows in cool (outdoor fan); fan (blower), where nothing fails" in page.words
    assert "house, full, cool, seed 1: cool/a" in page.words
    assert "cool/b: not observed (1)" in page.words
    assert page.words.lstrip().partition("TESTED ON: ")[2].startswith("MODEL")


def test_the_page_stands_by_itself(page: Reading) -> None:
    assert "script" not in page.tags
    assert not page.tags & {"link", "img", "iframe", "object"}
    links = [value or "" for name, value in page.attributes if name in ("href", "src")]
    assert links
    assert all(link.startswith("#") for link in links)
    assert {link[1:] for link in links} <= {value for name, value in page.attributes if name == "id"}


def test_a_page_of_nothing_is_a_page() -> None:
    assert "0 runs" in Reading(as_page(cover([], [], {}))).words


class Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("columns", [30, 40, 80])
def test_at_a_terminal_no_line_is_longer_than_it_is_wide(columns: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))

    lines = drawn(found(), Screen()).splitlines()

    assert any("100.0 %" in line for line in lines)
    assert [line for line in lines if len(line) > columns] == []
