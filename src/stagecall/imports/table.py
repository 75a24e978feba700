"""A CSV file to rows of cells: each record on one line, bad lines told by number and left out."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

import msgspec

from stagecall import points
from stagecall.errors import UsageError
from stagecall.imports.cells import number
from stagecall.model.map import Map

_DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "pipe": "|"}


class BadRow(msgspec.Struct, frozen=True):
    """A line that was left out, and why."""

    line: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.text}"


class Rows:
    """The rows of one file that the map asks for: of each the cells of the *wanted* columns, in that order.

    ``bad`` and ``zero_rows`` are final when the rows have been gone through.
    """

    def __init__(self, path: Path, map_: Map, wanted: Sequence[str]) -> None:
        self._path = path
        self._map = map_
        self._wanted = wanted
        self._delimiter = _DELIMITERS[map_.table.delimiter]
        self.bad: list[BadRow] = []
        self.zero_rows = 0
        """Rows left out because they were all zeros."""
        self._names: list[str] = []

    def __iter__(self) -> Iterator[tuple[int, list[str]]]:
        """Line number and cells of each row.

        Raises:
            UsageError: the file cannot be read, or has not the columns that the map names.
        """
        table = self._map.table
        try:
            with self._path.open(encoding=table.encoding, errors="replace") as text:
                yield from self._rows(enumerate(text, 1))
        except OSError as error:
            missing = isinstance(error, FileNotFoundError)
            why = "there is no such file" if missing else (error.strerror or str(error)).lower()
            raise UsageError(f"The recording {self._path} cannot be read: {why}.") from error
        except UnicodeError as error:
            raise UsageError(f"The recording {self._path} is not written in {table.encoding}: {error}.") from error

    def leave_out(self, line: int, text: str) -> None:
        """Report a row as bad."""
        self.bad.append(BadRow(line, text))

    def empty_sentence(self) -> str:
        """Says that no row could be used, and why the first was not."""
        first = f" The first line left out: {self.bad[0]}." if self.bad else ""
        return f"The recording {self._path} holds no row that can be used.{first}"

    def _rows(self, lines: Iterable[tuple[int, str]]) -> Iterator[tuple[int, list[str]]]:
        records = self._records(lines)
        first = next(records, None)
        if first is None:
            return
        line, cells = first
        if self._map.table.header:
            while cells and not cells[-1]:
                cells.pop()
            self._names = cells
        else:
            self._names = [str(index) for index in range(1, len(cells) + 1)]
            records = self._with(first, records)
        wanted = [self._place(name) for name in self._wanted]
        only = {self._place(name): text for name, text in self._map.only.items()}
        zeros = [self._place(name) for name in self._map.missing.rows_of_zeros]
        comma = self._map.table.decimal == "comma"
        width = len(self._names)
        for line, cells in records:
            while len(cells) > width and not cells[-1]:
                cells.pop()
            if len(cells) != width:
                self.leave_out(line, f"has {len(cells)} cells, the first line has {width}")
            elif all(cells[place] == text for place, text in only.items()):
                if zeros and all(_zero(cells[place], comma=comma) for place in zeros):
                    self.zero_rows += 1
                else:
                    yield line, [cells[place] for place in wanted]

    def _place(self, name: str) -> int:
        found = [index for index, known in enumerate(self._names) if known == name]
        if len(found) == 1:
            return found[0]
        if found:
            raise UsageError(f"The recording {self._path} has {len(found)} columns called '{name}'.")
        near = points.nearest(name, self._names)
        hint = f"did you mean '{near}'?" if near else f"it has: {', '.join(filter(None, self._names))}."
        raise UsageError(f"The recording {self._path} has no column '{name}'; {hint}")

    def _with(
        self, first: tuple[int, list[str]], rest: Iterator[tuple[int, list[str]]]
    ) -> Iterator[tuple[int, list[str]]]:
        yield first
        yield from rest

    def _records(self, lines: Iterable[tuple[int, str]]) -> Iterator[tuple[int, list[str]]]:
        for line, text in lines:
            if not text.strip():
                continue
            try:
                cells = next(csv.reader([text], delimiter=self._delimiter, strict=True))
            except csv.Error as error:
                self.leave_out(line, f"cannot be taken apart: {error}")
                continue
            yield line, [cell.strip() for cell in cells]


def _zero(cell: str, *, comma: bool) -> bool:
    try:
        return number(cell, comma=comma) == 0
    except ValueError:
        return False
