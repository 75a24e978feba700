"""Many drawn machines in one table: how often each sequence passed, and how near to its limits it came."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import IO, Any

import msgspec

from stagecall.model.event import VerdictLine
from stagecall.model.verdict import Verdict, roll_up
from stagecall.report import words
from stagecall.report.as_json import FORMAT
from stagecall.report.page import Page
from stagecall.units import Kind, Range

FEW = 5
"""So many machines that did not pass are named one by one, and so many of what did not pass on each."""


class Least(msgspec.Struct, frozen=True, kw_only=True):
    """The least margin seen: ``share`` of the limit (below 0: outside), of which expectation, on which machine."""

    share: float
    id: str
    text: str
    seed: int


class Row(msgspec.Struct, kw_only=True):
    """One sequence or monitor over all machines; what did not count is not counted."""

    name: str
    title: str
    monitor: bool
    passed: int = 0
    failed: int = 0
    not_verified: int = 0
    least: Least | None = None

    @property
    def counted(self) -> bool:
        """Whether it had anything to say on any machine."""
        return bool(self.passed or self.failed or self.not_verified)


class Machine(msgspec.Struct, frozen=True, kw_only=True):
    """A machine that did not pass: its seed, what did not, and its log; None where that was not kept."""

    seed: int
    verdict: Verdict
    names: tuple[str, ...]
    log: str | None


class Draws(msgspec.Struct, kw_only=True):
    """Machines drawn one after the other from ``seed`` on, ``asked`` of them."""

    system: str
    kit: str
    faults: tuple[str, ...]
    seed: int
    asked: int
    rows: dict[tuple[bool, str], Row]
    """By whether it is a monitor, and its name."""
    texts: Mapping[tuple[str, str], str]
    """The sentence of each expectation, by sequence or monitor and id."""
    again: str
    """The command that runs one of them alone, but for its seed."""
    follows: str = ""
    verdicts: list[Verdict] = []
    not_passed: list[Machine] = []

    @property
    def verdict(self) -> Verdict:
        """The worst of all."""
        return roll_up(self.verdicts)

    def of(self, verdict: Verdict) -> int:
        """How many machines came to it."""
        return self.verdicts.count(verdict)

    def take(self, seed: int, verdicts: Iterable[VerdictLine]) -> tuple[Verdict, tuple[str, ...]]:
        """Count one machine's verdicts; gives that of the whole and the names of what did not pass."""
        whole, bad = Verdict.NOT_VERIFIED, []
        for line in verdicts:
            if not line.of:
                whole = line.verdict
            elif line.counted and (row := self.rows.get((line.monitor, line.of))) is not None:
                if line.id:
                    self._nearest(row, line, seed)
                    continue
                row.passed += line.verdict in (Verdict.PASS, Verdict.EXCEPTED)
                row.failed += line.verdict is Verdict.FAIL
                row.not_verified += line.verdict is Verdict.NOT_VERIFIED
                if line.verdict in (Verdict.FAIL, Verdict.NOT_VERIFIED):
                    bad.append(line.of)
        self.verdicts.append(whole)
        return whole, tuple(bad)

    def _nearest(self, row: Row, line: VerdictLine, seed: int) -> None:
        if line.margin is None or line.limit is None or (width := width_of(line.limit, line.unit)) is None:
            return
        share = line.margin / width
        if row.least is None or share < row.least.share:
            text = self.texts.get((line.of, line.id), line.id)
            row.least = Least(share=share, id=line.id, text=text, seed=seed)


def width_of(limit: Range, kind: Kind) -> float | None:
    """What a margin is a share of: the width between two ends, else the one end; None where that says nothing.

    A temperature has no zero to count from, and a count at its limit is as sure as any other.
    """
    if kind == "count":
        return None
    if limit.low is not None and limit.high is not None:
        return (limit.high - limit.low) or None
    end = limit.high if limit.low is None else limit.low
    return None if end is None or kind == "temperature" else abs(end) or None


def as_object(draws: Draws, *, interrupted: bool) -> dict[str, Any]:
    """The object that ``--json`` prints. ``least_margin`` is a share of the limit, 0.1 a tenth of it."""
    return {
        "stagecall": FORMAT,
        "result": str(draws.verdict),
        "tested_on": "model",
        "drawn": True,
        "system": draws.system,
        "kit": draws.kit,
        "faults": list(draws.faults),
        "follows": draws.follows or None,
        "seed": draws.seed,
        "asked": draws.asked,
        "machines": len(draws.verdicts),
        "interrupted": interrupted,
        "passed": draws.of(Verdict.PASS) + draws.of(Verdict.EXCEPTED),
        "failed": draws.of(Verdict.FAIL),
        "not_verified": draws.of(Verdict.NOT_VERIFIED),
        "sequences": [{"sequence": row.name, **_row(row)} for row in _counted(draws, monitor=False)],
        "monitors": [{"monitor": row.name, **_row(row)} for row in _counted(draws, monitor=True)],
        "not_passed": [
            {"seed": one.seed, "verdict": str(one.verdict), "names": list(one.names), "log": one.log}
            for one in draws.not_passed
        ],
    }


def _row(row: Row) -> dict[str, Any]:
    return {
        "title": row.title,
        "passed": row.passed,
        "failed": row.failed,
        "not_verified": row.not_verified,
        "least_margin": None if row.least is None else row.least.share,
        "least_margin_of": None if row.least is None else {"id": row.least.id, "seed": row.least.seed},
    }


def _counted(draws: Draws, *, monitor: bool) -> list[Row]:
    return [row for row in draws.rows.values() if row.monitor is monitor and row.counted]


def drawn(draws: Draws, file: IO[str], *, interrupted: bool, width: int | None = None) -> str:
    """The table, the machines that did not pass, and how to run one of them alone."""
    page = Page(file, width)
    done = len(draws.verdicts)
    page.paragraph("TESTED ON: MODEL")
    last = f" to {draws.seed + done - 1}" if done > 1 else ""
    about = [f"system {draws.system}", f"kit {draws.kit}", f"machines drawn by seeds {draws.seed}{last}"]
    page.paragraph(", ".join(about + [f"FAULT {fault}" for fault in draws.faults]))
    if draws.follows:
        page.paragraph(f"follows {draws.follows}")
    page.blank()
    rows = [*_counted(draws, monitor=False), *_counted(draws, monitor=True)]
    if rows:
        _table(page, rows)
        page.blank()
    for one in draws.not_passed[:FEW]:
        page.paragraph(f"{words.VERDICT_WORDS[one.verdict]} seed {one.seed}: {_few(one.names)}; log {one.log}")
    if (more := len(draws.not_passed) - FEW) > 0:
        page.paragraph(f"And {words.plural(more, 'more machine')}{_without_logs(draws)}")
    if draws.not_passed:
        page.paragraph(f"One alone: {draws.again} --draw 1 --seed {draws.not_passed[0].seed}")
        page.blank()
    if interrupted:
        page.paragraph(f"INTERRUPTED: {done} of {words.plural(draws.asked, 'machine')} were run.")
    page.paragraph(_closing(draws, done))
    return page.text()


def _without_logs(draws: Draws) -> str:
    kept = sum(one.log is not None for one in draws.not_passed)
    if kept == len(draws.not_passed):
        return ", each with its log."
    return f". The first {kept} left their logs; each of the others can be run again alone by its seed."


def _table(page: Page, rows: Sequence[Row]) -> None:
    heads = ("", "passed", "failed", "not verified", "least margin, share of the limit")
    cells = [
        (row.name, str(row.passed), str(row.failed or "-"), str(row.not_verified or "-"), _least(row)) for row in rows
    ]
    widths = [max(page.cells(cell[column]) for cell in (heads, *cells)) for column in range(5)]
    if not page.piped:
        widths[4] = max(page.width - sum(widths[:4]) - 8, 10)
    for cell in (heads, *cells):
        page.columns(cell, widths)


def _few(names: Sequence[str]) -> str:
    more = len(names) - FEW
    return ", ".join(names) if more <= 0 else f"{', '.join(names[:FEW])} and {more} more"


def _least(row: Row) -> str:
    if row.least is None:
        return "-"
    return f"{row.least.share:.1%} (seed {row.least.seed}): {row.least.text}"


def _closing(draws: Draws, done: int) -> str:
    if not done:
        return "NOT VERIFIED on the model: no machine was run."
    passed = draws.of(Verdict.PASS) + draws.of(Verdict.EXCEPTED)
    said = f"{words.VERDICT_WORDS[draws.verdict]} on the model: {passed} of {words.plural(done, 'machine')} passed"
    said += f", {draws.of(Verdict.FAIL)} failed" if draws.of(Verdict.FAIL) else ""
    said += f", {draws.of(Verdict.NOT_VERIFIED)} not verified" if draws.of(Verdict.NOT_VERIFIED) else ""
    return f"{said}. A pass on the model is not acceptance of equipment."
