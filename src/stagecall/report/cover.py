"""What ``stagecall cover`` found: drawn for the terminal, as JSON, as CSV."""

from __future__ import annotations

import csv
import io
from typing import IO, Any

import msgspec

from stagecall.report.page import GAP, Page
from stagecall.run.cover import Cover, KitFigures, Rate, outcome

_COLUMNS = ("system", "kit", "sequence", "fault", "part", "outcome", "failed", "left_healthy_range", "not_verified")


def as_object(cover: Cover) -> dict[str, Any]:
    """One JSON object; keys may be added, never renamed."""
    made: dict[str, Any] = msgspec.to_builtins(cover)
    cases = made.pop("cases")
    made["matrix"] = [
        {
            "fault": case["entry"]["text"],
            "system": case["system"],
            "kit": case["kit"],
            "caught_by": list(found.catchers),
            "outcomes": {one.sequence: word for one in found.tried if (word := outcome(one)) != "no response"},
        }
        for case, found in zip(cases, cover.cases, strict=True)
    ]
    return made


def as_csv(cover: Cover) -> str:
    """A row for each fault run."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(_COLUMNS)
    for case in cover.cases:
        for one in case.tried:
            rows.writerow(
                (
                    one.system,
                    one.kit,
                    one.sequence,
                    one.fault,
                    case.entry.part,
                    f"could not be run: {one.broken}" if one.broken else outcome(one),
                    "; ".join(map(str, one.failures)),
                    "; ".join(point or "steps" for point in one.left),
                    "; ".join(one.not_verified),
                )
            )
    return out.getvalue()


def drawn(cover: Cover, file: IO[str]) -> str:
    """For a person at a terminal."""
    page = Page(file)
    page.paragraph("TESTED ON: MODEL")
    rate = f", {cover.runs / cover.seconds:.0f} a second" if cover.seconds else ""
    page.paragraph(f"{cover.runs} runs in {cover.seconds:.0f} s{rate}.")
    page.paragraph(
        f"Healthy machines: {cover.healthy_runs} runs, {cover.false_alarms} with a fail, "
        f"{cover.not_verified_healthy} that left something unverified."
    )
    for alarm in cover.alarms[:10]:
        page.paragraph(alarm, indent=2)
    for name, figures in cover.kits.items():
        page.blank()
        _kit(page, name, figures)
    return page.text()


def _kit(page: Page, name: str, figures: KitFigures) -> None:
    page.paragraph(f"kit {name}")
    page.paragraph(
        f"{figures.detected} of {figures.detectable} detectable faults caught ({percent(figures.detection_rate)}); "
        f"without faults of conductors {percent(figures.part_detection_rate)}; each entry of the catalogue "
        f"counted once, at however many places it sits, {percent(figures.unweighted_detection_rate)}. "
        f"{figures.faults - figures.detectable} of {figures.faults} "
        "faults show nothing that this kit sees.",
        indent=2,
    )
    page.paragraph(
        f"Of those caught, {percent(figures.isolated_to_1)} look like no other fault; {percent(figures.isolated_to_3)} "
        "like two others at most.",
        indent=2,
    )
    page.paragraph("; ".join(f"{word} {count}" for word, count in figures.outcomes.items()), indent=2)
    _rates(page, "by part", figures.by_part)
    _rates(page, "by fault", figures.by_fault)
    nothing = [sequence for sequence, count in figures.alone.items() if not count]
    if nothing:
        page.paragraph(f"catch nothing that another does not catch too: {', '.join(nothing)}", indent=2)
    missed = [one for one in figures.undetected if one.detectable]
    if missed:
        page.paragraph("not caught:", indent=2)
    for one in missed:
        page.paragraph(f"{one.fault} on {one.system}: {one.reason}", indent=4)
    if figures.alike:
        page.paragraph("look the same:", indent=2)
    for system, group in figures.alike:
        page.paragraph(f"{system}: {', '.join(group)}", indent=4)


def _rates(page: Page, title: str, rates: dict[str, Rate]) -> None:
    page.paragraph(title, indent=2)
    rows = [(name, f"{rate.detected} of {rate.detectable}", percent(rate.share)) for name, rate in rates.items()]
    names, counts, shares = (max((len(row[column]) for row in rows), default=0) for column in range(3))
    names = max(min(names, page.width - counts - shares - 2 * GAP - 4), 1)
    for row in rows:
        page.columns(row, [names, counts, shares], indent=4)


def percent(share: float | None) -> str:
    """``98.2 %``, or ``none`` where nothing was to be found."""
    return "none" if share is None else f"{100 * share:.1f} %"
