"""How a record is said in words: verdicts, what was observed, margins, and the closing sentences."""

from __future__ import annotations

from collections.abc import Sequence

from stagecall import units
from stagecall.model.event import TestedOn
from stagecall.model.verdict import Reason, Verdict
from stagecall.points import SENSED_WORDS, Sensed
from stagecall.report.record import Judged, Record, Row

VERDICT_WORDS: dict[Verdict, str] = {
    Verdict.PASS: "PASS",
    Verdict.FAIL: "FAIL",
    Verdict.NOT_VERIFIED: "NOT VERIFIED",
    Verdict.NOT_APPLICABLE: "not applicable",
    Verdict.EXCEPTED: "EXCEPTED",
}

_FEW = 4
"""More names than this of what does not apply are only counted."""
_HEADINGS = {Verdict.FAIL: "Failed", Verdict.NOT_VERIFIED: "NOT VERIFIED", Verdict.EXCEPTED: "EXCEPTED"}

_PLACES: dict[TestedOn, tuple[str, str]] = {
    "model": ("on the model", "A pass on the model is not acceptance of equipment."),
    "bench": ("on the bench", "A pass on the bench is not acceptance of installed equipment."),
    "equipment": ("on the equipment", "The maker's sheet and the local code govern."),
    "recorded log": ("in the recorded log", "A recorded log shows only what its columns hold."),
}

_BY_COIL: tuple[Sensed, ...] = ("coil_volts", "call_volts")
_DRIVEN = {"contactor": "compressor", "gas_valve": "flame"}
"""What runs only if what the coil of the first moves is sound."""


def verdict_words(judged: Judged | Row) -> str:
    """The verdict in full; in small letters where it does not count."""
    words = VERDICT_WORDS[judged.verdict]
    return words if judged.counted else words.lower()


def title_words(judged: Judged) -> str:
    """The title, with why where it does not count."""
    reason = judged.detail or (str(judged.reason) if judged.reason else "")
    return f"{judged.title} ({reason})" if reason and not judged.counted else judged.title


def figure(value: float, kind: units.Kind) -> str:
    """A figure with its unit, as precise as a person wants it: a time of minutes to a tenth of a second."""
    if kind == "time":
        step = next(step for below, step in _PRECISION if abs(value) < below)
        value = round(value / step) * step
    return units.show(value, kind)


_PRECISION = ((1_000, 1), (10_000, 10), (3_600_000, 100), (float("inf"), 1_000))
"""Times below so many ms are said to so many ms."""


def interval(observed: units.Range, kind: units.Kind) -> str:
    """A measured interval: ``4.2 s``, ``4.1 s to 4.2 s``, ``at least 3 min``.

    A response that may have come before its cause, because both are known so well only, came after at most that long.
    """
    low, high = observed.low, observed.high
    if low is not None and high is not None:
        if kind == "time" and low < 0 <= high:
            return f"at most {figure(high, kind)}"
        low_said, high_said = figure(low, kind), figure(high, kind)
        return low_said if low_said == high_said else f"{low_said} to {high_said}"
    if low is not None:
        return f"at least {figure(low, kind)}"
    return "" if high is None else f"at most {figure(high, kind)}"


def observed(row: Row) -> str:
    """What came, in one phrase; the worst of all where there were several."""
    if row.verdict is Verdict.NOT_APPLICABLE:
        return "-"
    if row.instances == 0:
        return "none seen" if row.verdict is Verdict.PASS else _reason(row)
    measured = "" if row.observed is None else interval(row.observed, row.unit)
    counts = ""
    if row.instances is not None:
        counts = f"{row.instances} seen" if not row.failed else f"{row.failed} of {row.instances} wrong"
        measured = f"worst {measured}" if measured and row.instances > 1 else measured
    said = ", ".join(part for part in (counts, measured) if part)
    if said:
        return said
    if row.verdict is Verdict.PASS:
        return row.detail or "as expected"
    return _reason(row) or "not as expected"


def _reason(row: Row) -> str:
    """``cut short: the limit never closed``."""
    return ": ".join(part for part in (str(row.reason) if row.reason else "", row.detail) if part)


def margin(row: Row) -> str:
    """How far inside (+) or outside (-) its limit: ``+1.8 s``, ``-2 min``; empty where there is no figure."""
    if row.margin is None or row.instances == 0:
        return ""
    kind: units.Kind = "difference" if row.unit == "temperature" else row.unit
    sign = "+" if row.margin >= 0 else "-"
    return f"{sign}{figure(abs(row.margin), kind)}"


def sensed(row: Row) -> str:
    """How it was sensed: ``amps``; each means once, ``not seen`` where a point has none."""
    means = dict.fromkeys("not seen" if how is None else SENSED_WORDS[how] for how in row.sensed.values())
    return ", ".join(means)


def why(row: Row) -> str:
    """What stands behind the verdict beyond what was observed: reason, detail, remark."""
    said = observed(row)
    parts = [str(row.reason) if row.reason else "", row.detail, row.remark]
    return "; ".join(part for part in dict.fromkeys(parts) if part and part not in said)


def by_the_way(row: Row) -> bool:
    """It passed, and its remark is no more than how well the kit could see."""
    return row.verdict is Verdict.PASS and row.usual is not False


def plural(number: int, noun: str) -> str:
    """``1 sequence``, ``3 sequences``."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def name_of(point: str) -> str:
    """A point's name as it is said."""
    return point.replace("_", " ")


def result_words(record: Record) -> str:
    """The result of the whole run; with exceptions it never says only ``pass``."""
    return "PASS WITH EXCEPTIONS" if record.verdict is Verdict.EXCEPTED else VERDICT_WORDS[record.verdict]


def _counts(record: Record) -> str:
    """``8 of 9 sequences passed, and 3 of 3 monitors``."""
    parts = []
    for noun, group in (("sequence", record.sequences), ("monitor", record.monitors)):
        counted = [each for each in group if each.counted and each.verdict is not Verdict.NOT_APPLICABLE]
        if counted:
            passed = sum(each.verdict is Verdict.PASS for each in counted)
            parts.append(f"{passed} of {plural(len(counted), noun)} passed")
    return ", ".join(parts) or "nothing was judged"


def unseen(record: Record) -> tuple[str, ...]:
    """Points that were asked for and that the source cannot see."""
    return tuple(sorted(point for point in record.must_see if point not in record.seen))


def not_proved(record: Record) -> tuple[str, ...]:
    """What was seen to go on without proof of what it drives.

    ``contactor coil energised; compressor running NOT VERIFIED``: a live coil is not a running machine.
    """
    said = []
    for point in sorted(record.came_on):
        by_coil = record.seen.get(point) in _BY_COIL and not point.startswith("wire_")
        base, number = (point[:-2], point[-2:]) if point[-1].isdigit() else (point, "")
        driven = _DRIVEN.get(base, base) + number
        if (by_coil and driven == point) or (driven != point and driven not in record.seen):
            does = "burning" if base == "gas_valve" else "running"
            was = f"{name_of(point)} coil energised" if by_coil else f"{name_of(point)} on"
            said.append(f"{was}; {name_of(driven)} {does} NOT VERIFIED")
    return tuple(said)


def closing(record: Record) -> tuple[str, ...]:
    """What was shown and what was not, a sentence each; the first is the result."""
    place, reminder = _PLACES[record.tested_on]
    everything: Sequence[Judged] = (*record.sequences, *record.monitors)
    said = [f"{result_words(record)} {place}: {_counts(record)}."]
    for verdict, heading in _HEADINGS.items():
        named = [each for each in everything if each.verdict is verdict and each.counted]
        for reason in dict.fromkeys(each.reason for each in named):
            names = ", ".join(each.name for each in named if each.reason is reason)
            said.append(f"{heading} ({reason}): {names}." if reason else f"{heading}: {names}.")
    if unusual := [each.name for each in everything if any(row.usual is False for row in each.rows)]:
        said.append(f"Passed, outside usual: {', '.join(unusual)}.")
    if deferred := [each.name for each in everything if not each.counted and each.reason is Reason.DEFERRED]:
        said.append(f"Deferred: {', '.join(deferred)}.")
    if elsewhere := [each.name for each in everything if each.verdict is Verdict.NOT_APPLICABLE]:
        few = len(elsewhere) <= _FEW
        said.append(f"Not applicable here: {', '.join(elsewhere) if few else f'{len(elsewhere)} others'}.")
    if idle := [each.name for each in record.monitors if each.idle]:
        said.append(f"Nothing to judge for {', '.join(idle)}.")
    if not record.closed and record.log:
        said.append("The log was never closed.")
    if hidden := unseen(record):
        said.append(f"Not seen with kit {record.kit}: {', '.join(map(name_of, hidden))}.")
    said += [f"{sentence}." for sentence in not_proved(record)]
    said.append(reminder)
    return tuple(said)
