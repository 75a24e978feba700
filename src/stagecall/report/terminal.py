"""The commissioning result on a terminal, or piped: words say everything, colour only helps the eye.

On a terminal a sequence is one line, its title shortened where there is no room.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import groupby
from typing import IO, TYPE_CHECKING

from stagecall.model.verdict import Verdict
from stagecall.report import words
from stagecall.report.page import GAP, UNLIMITED, Page
from stagecall.report.record import Judged, Record, Row

if TYPE_CHECKING:
    from rich.text import Text

NARROW = 72
"""Below this many columns a row of an expectation becomes a few short lines, one under the other."""
NOTES = 3
"""Notes shown; the log holds them all. Those of a run on the model that passed stay there."""
SCREEN = 23
"""A run that passed takes no more lines than this: 24 lines less the one that the shell needs."""

_STYLES = {
    Verdict.PASS: "green",
    Verdict.FAIL: "bold red",
    Verdict.NOT_VERIFIED: "bold yellow",
    Verdict.EXCEPTED: "magenta",
    Verdict.NOT_APPLICABLE: "",
}
_OBSERVED, _MARGIN, _SENSED = 15, 12, 11
"""The widest that these columns get on a terminal."""


def drawn(record: Record, file: IO[str], *, width: int | None = None, remarks: Iterable[str] = ()) -> str:
    """The result: head, a row a sequence and monitor, rows under what is not passed, the closing words.

    ``file`` is what it is drawn for, ``width`` its columns (None: as it has). ``remarks`` are sentences that stand
    before the closing words, such as whether stored verdicts agree.
    """
    page = Page(file, width)
    _fill(page, record, remarks := tuple(remarks), packed=False)
    if record.verdict is Verdict.PASS and page.height > SCREEN and NARROW <= page.width < UNLIMITED:
        page = Page(file, width)
        _fill(page, record, remarks, packed=True)
    return page.text()


def _fill(page: Page, record: Record, remarks: Sequence[str], *, packed: bool) -> None:
    for sentence in _head(record):
        page.paragraph(sentence)
    page.blank()
    _judged(page, record, packed=packed)
    if said := [*_happenings(record), *remarks]:
        page.blank()
        for sentence in said:
            page.paragraph(sentence)
    page.blank()
    page.paragraph(" ".join(words.closing(record)), words.result_words(record), _STYLES[record.verdict])


def _head(record: Record) -> list[str]:
    about = [f"system {record.system}", f"kit {record.kit}"]
    if record.seed is not None:
        about.append(f"a machine drawn by seed {record.seed}" if record.drawn else f"seed {record.seed}")
    about += [f"FAULT {fault}" for fault in record.faults]
    time = f"{words.figure(record.equipment_ms, 'time')} of equipment time, {words.plural(record.events, 'event')}"
    run = f"run {record.run}, {record.start}" + (f", follows {record.follows}" if record.follows else "")
    said = [f"TESTED ON: {record.tested_on.upper()}", ", ".join(about), run, time]
    if record.log:
        said.append(f"log {record.log}" + (f", SHA-256 {record.digest[:16]}" if record.digest else ""))
    return said


def _happenings(record: Record) -> list[str]:
    said = [f"CALL REFUSED: {refusal.because}" for refusal in record.refusals]
    said += [
        f"EXCEPTED {each.sequence} {each.id} by {each.by} ({each.role}): {each.because}" for each in record.exceptions
    ]
    if record.tested_on == "model" and record.verdict is Verdict.PASS:
        return said
    said += [f"Note: {note.text}" for note in record.notes[:NOTES]]
    if (more := len(record.notes) - NOTES) > 0:
        said.append(f"{words.plural(more, 'more note')} in the log.")
    return said


def _judged(page: Page, record: Record, *, packed: bool) -> None:
    shown = [each for each in (*record.sequences, *record.monitors) if each.verdict is not Verdict.NOT_APPLICABLE]
    verdict_width = max((page.cells(words.verdict_words(each)) for each in shown), default=0)
    name_width = max((page.cells(each.name) for each in shown), default=0)
    for monitors, group in groupby(shown, key=lambda each: each.monitor):
        if monitors:
            page.paragraph("monitors")
        if packed:
            _packed(page, list(group), verdict_width, name_width)
            continue
        for each in group:
            _one(page, each, verdict_width, name_width)
            if each.counted and each.verdict is not Verdict.PASS and each.rows:
                (_stacked if page.width < NARROW else _tabled)(page, each.rows)
                _remarks(page, each.rows)
                page.blank()


def _one(page: Page, each: Judged, verdict_width: int, name_width: int) -> None:
    title = words.title_words(each)
    room = page.width - verdict_width - name_width - 2 * GAP
    if page.width < NARROW or room < 1:
        page.line(_verdict(page, each).append_text(page.words(f"  {each.name}")), page.width)
        if each.verdict is not Verdict.PASS:
            page.line(title, page.width - 2, indent=2)
    else:
        page.columns([_verdict(page, each), each.name, page.shortened(title, room)], [verdict_width, name_width, room])
    if each.counted and each.detail:
        page.line(each.detail, page.width - 2, indent=2)


def _packed(page: Page, group: Sequence[Judged], verdict_width: int, name_width: int) -> None:
    """Several to a line, without their titles."""
    abreast = max(1, page.width // (verdict_width + name_width + 2 * GAP))
    for start in range(0, len(group), abreast):
        some = group[start : start + abreast]
        cells = [cell for each in some for cell in (_verdict(page, each), page.words(each.name))]
        page.columns(cells, [verdict_width, name_width] * len(some))


def _verdict(page: Page, each: Judged | Row) -> Text:
    text = page.words(words.verdict_words(each))
    text.stylize(_STYLES[each.verdict])
    return text


def _why(row: Row) -> str:
    return "" if words.by_the_way(row) else words.why(row)


def _remarks(page: Page, rows: Sequence[Row]) -> None:
    """What is remarked of those that passed, each remark once."""
    remarks = Counter(why for row in rows if words.by_the_way(row) and (why := words.why(row)))
    for remark, count in remarks.items():
        page.line(f"({count} passed: {remark})", page.width - 2, indent=2)


def _stacked(page: Page, rows: Sequence[Row]) -> None:
    """Few columns: label and words, one under the other."""
    for step, group in groupby(rows, key=lambda row: row.step):
        if step:
            page.line(f"{step}:", page.width - 2, indent=2)
        for row in group:
            page.line(_verdict(page, row).append_text(page.words(f"  {row.text}")), page.width - 2, indent=2)
            if row.verdict is Verdict.NOT_APPLICABLE:
                said = [words.why(row)]
            else:
                said = [f"observed {words.observed(row)}"]
                said += [f"margin {margin}"] if (margin := words.margin(row)) else []
                said += [f"by {sensed}"] if (sensed := words.sensed(row)) else []
                said += [why] if (why := _why(row)) else []
            page.line("; ".join(said), page.width - 4, indent=4)


def _tabled(page: Page, rows: Sequence[Row]) -> None:
    heads = ("", "expected", "observed", "margin", "sensed by")
    cells = [
        (words.verdict_words(row), row.text, words.observed(row), words.margin(row), words.sensed(row)) for row in rows
    ]
    widths = [max(page.cells(cell[column]) for cell in (heads, *cells)) for column in range(5)]
    if not page.piped:
        widths[2:] = (min(widths[2], _OBSERVED), min(widths[3], _MARGIN), min(widths[4], _SENSED))
        widths[1] = min(widths[1], page.width - 2 - widths[0] - sum(widths[2:]) - 4 * GAP)
    page.columns(heads, widths, indent=2)
    deep = 2 + widths[0] + GAP
    for step, group in groupby(zip(rows, cells, strict=True), key=lambda pair: pair[0].step):
        if step:
            page.line(f"{step}:", page.width - 2, indent=2)
        for row, cell in group:
            page.columns([_verdict(page, row), *cell[1:]], widths, indent=2)
            if why := _why(row):
                page.line(why, page.width - deep, indent=deep)
