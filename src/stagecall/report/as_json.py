"""The record as one JSON object, for programs. Keys may be added later, never renamed.

Times are whole milliseconds (``limit_ms``, ``observed_ms``, ``margin_ms``); everything else is SI and says its unit
(``limit``, ``observed``, ``margin``, ``unit``). A range is ``[low, high]``, null where an end is open.
"""

from __future__ import annotations

from typing import Any

from stagecall.report import words
from stagecall.report.record import Judged, Record, Row
from stagecall.units import Kind, Range

FORMAT = 1

SI_UNITS: dict[Kind, str] = {
    "time": "ms",
    "volts": "V",
    "amps": "A",
    "ohms": "ohm",
    "temperature": "°C",
    "difference": "K",
    "power": "W",
    "apparent_power": "VA",
    "pressure": "Pa",
    "length": "m",
    "airflow": "m³/s",
    "fraction": "",
    "count": "",
    "heat_capacity": "J/K",
    "conductance": "W/K",
    "flame_current": "µA",
    "capacitance": "F",
}
"""The unit in which each kind stands in the log and here."""


def as_object(record: Record, *, agrees: bool | None = None, replayed: bool = False) -> dict[str, Any]:
    """The object that ``--json`` prints. ``replayed`` adds ``agrees`` (null: there was nothing to compare with)."""
    said: dict[str, Any] = {
        "stagecall": FORMAT,
        "result": str(record.verdict),
        "reason": _text(record.reason),
        "tested_on": record.tested_on,
        "system": record.system,
        "kit": record.kit,
        "rig": record.rig,
        "faults": list(record.faults),
        "log": record.log or None,
        "digest": record.digest or None,
        "closed": record.closed,
        "seed": record.seed,
        "drawn": record.drawn,
        "run": record.run,
        "start": record.start,
        "follows": record.follows or None,
        "tool": record.tool,
        "judging": record.judging,
        "equipment_ms": record.equipment_ms,
        "events": record.events,
        "sequences": [{"sequence": each.name, **_judged(each)} for each in record.sequences],
        "monitors": [{"monitor": each.name, **_judged(each)} for each in record.monitors],
        "refusals": [{"at_ms": each.t, "calls": list(each.calls), "because": each.because} for each in record.refusals],
        "waits": [{"at_ms": each.t, "until_ms": each.until, "because": each.because} for each in record.waits],
        "notes": [{"at_ms": each.t, "text": each.text} for each in record.notes],
        "exceptions": [
            {"sequence": each.sequence, "id": each.id, "by": each.by, "role": each.role, "because": each.because}
            for each in record.exceptions
        ],
        "cautions": list(record.cautions),
        "not_seen": list(words.unseen(record)),
        "said": " ".join(words.closing(record)),
    }
    if replayed:
        said["agrees"] = agrees
    return said


def _judged(each: Judged) -> dict[str, Any]:
    return {
        "title": each.title,
        "verdict": str(each.verdict),
        "reason": _text(each.reason),
        "detail": each.detail or None,
        "counted": each.counted,
        "expected": [_row(row) for row in each.rows],
    }


def _row(row: Row) -> dict[str, Any]:
    suffix = "_ms" if row.unit == "time" else ""
    said: dict[str, Any] = {
        "id": row.id,
        "step": row.step or None,
        "text": row.text,
        "sensed": ", ".join(dict.fromkeys(how for how in row.sensed.values() if how)) or None,
        "points": dict(row.sensed),
        "verdict": str(row.verdict),
        "reason": _text(row.reason),
        f"limit{suffix}": _range(row.limit, row.unit),
        f"observed{suffix}": _range(row.observed, row.unit),
        f"margin{suffix}": None if row.margin is None else _number(row.margin, row.unit),
    }
    if row.unit != "time":
        said["unit"] = SI_UNITS[row.unit]
    return said | {
        "usual": row.usual,
        "detail": row.detail or None,
        "remark": row.remark or None,
        "instances": row.instances,
        "failed": row.failed,
        "counted": row.counted,
        "lines": list(row.lines),
    }


def _text(word: object) -> str | None:
    return None if word is None else str(word)


def _number(value: float, kind: Kind) -> float:
    return int(value) if kind in {"time", "count"} else value


def _range(limit: Range | None, kind: Kind) -> list[float | None] | None:
    if limit is None:
        return None
    return [None if end is None else _number(end, kind) for end in (limit.low, limit.high)]
