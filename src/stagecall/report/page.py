"""Words laid out in columns for a terminal of any width, or for a pipe, which has none."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Iterator, Sequence
from itertools import zip_longest
from typing import IO, TYPE_CHECKING

if TYPE_CHECKING:
    from rich.text import Text

UNLIMITED = 100_000
"""Columns where the output is not a terminal: nothing is wrapped or shortened, so that a row can be searched for."""
USUAL = 80
"""Columns where a terminal does not say."""
GAP = 2
"""Blanks between columns."""
WIDEST_PROSE = 100
"""Sentences are easier to read when they are no longer than this, however wide the terminal."""


def columns_of(file: IO[str]) -> int:
    """How many columns *file*'s terminal has, or the variable COLUMNS says; ``UNLIMITED`` where it is no terminal."""
    if not file.isatty():
        return UNLIMITED
    asked = os.environ.get("COLUMNS", "")
    if asked.isdecimal() and int(asked) > 0:
        return int(asked)
    try:
        return os.get_terminal_size(file.fileno()).columns or USUAL
    except (OSError, ValueError):
        return USUAL


def printable(text: str) -> str:
    """The text as it may go to a terminal: a log or a file of somebody else's must not move its cursor."""
    return "".join(char if char.isprintable() else " " if char.isspace() else "?" for char in text)


class Page:
    """Collects lines for one output; :meth:`text` gives them all, with colour where the output shows it."""

    def __init__(self, file: IO[str], width: int | None = None) -> None:
        """*width*: columns; None: as many as *file* has."""
        from rich.console import Console  # noqa: PLC0415 - imported when first needed
        from rich.text import Text  # noqa: PLC0415 - imported when first needed

        self._console = Console(
            file=io.StringIO(),
            force_terminal=True if file.isatty() else None,
            width=width or columns_of(file),
            highlight=False,
            markup=False,
            emoji=False,
        )
        self._lines: list[Text] = []
        self._text: Callable[[str], Text] = Text

    @property
    def width(self) -> int:
        """Columns."""
        return self._console.width

    @property
    def piped(self) -> bool:
        """There is no width to keep to."""
        return self.width >= UNLIMITED

    def words(self, text: str = "") -> Text:
        """A piece of text that can be put in a cell."""
        return self._text(printable(text))

    def cells(self, text: str) -> int:
        """How many columns the text takes: some characters take two."""
        return self.words(text).cell_len

    @property
    def height(self) -> int:
        """Lines so far."""
        return len(self._lines)

    def blank(self) -> None:
        """An empty line; never two in a row."""
        if self._lines and self._lines[-1].plain:
            self._lines.append(self.words())

    def paragraph(self, sentence: str, start: str = "", style: str = "", *, indent: int = 0) -> None:
        """Sentences, wrapped; their ``start`` in that style."""
        text = self.words(sentence)
        text.stylize(style, 0, len(start))
        width = self.width if self.piped else min(self.width, WIDEST_PROSE)
        self.columns([text], [width - indent], indent=indent)

    def columns(self, cells: Sequence[Text | str], widths: Sequence[int], *, indent: int = 0) -> None:
        """The cells side by side, each wrapped to its width."""
        self._lines += self._laid(cells, widths, indent)

    def line(self, text: Text | str, width: int, *, indent: int = 0) -> None:
        """One cell alone."""
        self.columns([text], [width], indent=indent)

    def shortened(self, text: str, width: int) -> Text:
        """The text, cut with an ellipsis where it is longer than *width*."""
        made = self.words(text)
        made.truncate(max(width, 1), overflow="ellipsis")
        return made

    def _laid(self, cells: Sequence[Text | str], widths: Sequence[int], indent: int) -> Iterator[Text]:
        texts = [self.words(cell) if isinstance(cell, str) else cell for cell in cells]
        wrapped = [text.wrap(self._console, max(width, 1)) for text, width in zip(texts, widths, strict=True)]
        for parts in zip_longest(*wrapped):
            line = self.words(" " * indent)
            for part, width in zip(parts, widths, strict=True):
                cell = part or self.words()
                line.append_text(cell).append(" " * (width + GAP - cell.cell_len))
            line.rstrip()
            yield line

    def text(self) -> str:
        """Everything, with the escapes that the output understands."""
        for line in self._lines:
            self._console.print(line, soft_wrap=True)
        made: str = self._console.file.getvalue()  # type: ignore[attr-defined]
        return made
