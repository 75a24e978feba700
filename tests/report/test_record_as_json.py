"""The machine-readable result keeps its keys and its units."""

from __future__ import annotations

import json
from typing import Any

from report.hand_made import NOT_VERIFIED, failing, passing, record_from
from stagecall.report.as_json import SI_UNITS, as_object
from stagecall.units import KINDS

TOP = {
    "stagecall", "result", "tested_on", "system", "kit", "log", "seed", "equipment_ms", "events", "sequences",
    "monitors",
}  # fmt: skip
ROW = {"id", "step", "text", "sensed", "verdict", "reason", "usual", "lines"}


def through_text(record: Any, **more: Any) -> dict[str, Any]:
    made: dict[str, Any] = json.loads(json.dumps(as_object(record, **more)))
    return made


def test_every_promised_key_is_there() -> None:
    said = through_text(record_from(failing()))

    assert said.keys() >= TOP
    for each in said["sequences"]:
        assert each.keys() >= {"sequence", "title", "verdict", "reason", "expected"}
        assert all(row.keys() >= ROW for row in each["expected"])
    for each in said["monitors"]:
        assert each.keys() >= {"monitor", "title", "verdict", "reason", "expected"}


def test_the_head_says_result_place_and_figures() -> None:
    said = through_text(record_from(failing()))

    assert said["stagecall"] == 1
    assert (said["result"], said["tested_on"], said["seed"]) == ("fail", "model", 1)
    assert (said["equipment_ms"], said["events"], said["log"]) == (90_000, 7, "fan.run.jsonl")
    assert said["said"].startswith("FAIL on the model")


def test_a_time_is_in_whole_milliseconds() -> None:
    row = through_text(record_from(failing()))["sequences"][1]["expected"][0]

    assert (row["limit_ms"], row["observed_ms"], row["margin_ms"]) == ([180_000, 480_000], [2_400, 2_400], -177_600)
    assert "unit" not in row
    assert row["lines"] == [14, 16]


def test_an_open_end_is_null() -> None:
    assert through_text(record_from(passing()))["sequences"][0]["expected"][1]["limit_ms"] == [None, 10_000]


def test_anything_else_says_its_unit() -> None:
    row = through_text(record_from(failing()))["sequences"][1]["expected"][2]

    assert (row["limit"], row["observed"], row["margin"], row["unit"]) == ([7.0, 15.0], [14.5, 15.5], -0.5, "°C")
    assert (row["verdict"], row["reason"]) == (NOT_VERIFIED, "too close to call")
    assert "limit_ms" not in row


def test_every_kind_of_quantity_has_a_unit() -> None:
    assert SI_UNITS.keys() == set(KINDS)


def test_agrees_is_there_only_after_a_replay() -> None:
    record = record_from(passing())

    assert "agrees" not in through_text(record)
    assert through_text(record, replayed=True, agrees=True)["agrees"] is True
    assert through_text(record, replayed=True, agrees=None)["agrees"] is None
