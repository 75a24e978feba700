"""``run --draw`` and ``run --failed-in`` on the model itself."""

from __future__ import annotations

import json
from pathlib import Path

import msgspec
import pytest

from stagecall.cli import main
from stagecall.model.event import AnyLine, Header, Seal
from stagecall.record import read

FAILING = ("run", "cool-one-stage", "--fault", "run-capacitor-dead", "--json")


def lines_of(log: Path) -> list[AnyLine]:
    """All that two runs of the same machine have in common."""
    lines = [line for line in read(log).lines if not isinstance(line, Seal)]
    return [
        msgspec.structs.replace(line, run="", start="")
        if isinstance(line, Header)
        else msgspec.structs.replace(line, n=0)
        for line in lines
    ]


def test_a_machine_run_alone_is_the_one_that_was_drawn(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main((*FAILING, "--draw", "2")) == 1
    drawn = json.loads(capsys.readouterr().out)
    assert main((*FAILING, "--draw", "1", "--seed", "1", "--log", "alone.jsonl")) == 1
    alone = json.loads(capsys.readouterr().out)

    assert [one["seed"] for one in drawn["not_passed"]] == [0, 1]
    assert (alone["seed"], alone["drawn"], alone["result"]) == (1, True, "fail")
    logs = [lines_of(Path(one["log"])) for one in drawn["not_passed"]]
    assert lines_of(Path("alone.jsonl")) == logs[1]
    assert logs[0] != logs[1]


def test_put_right_what_failed_passes_on_the_same_machine(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main((*FAILING, "fan", "--draw", "1", "--seed", "3", "--log", "first.jsonl")) == 1
    first = json.loads(capsys.readouterr().out)
    assert main(("run", "--failed-in", "first.jsonl", "--log", "second.jsonl", "--json")) == 0
    second = json.loads(capsys.readouterr().out)

    assert [one["sequence"] for one in second["sequences"]] == ["cool-one-stage"]
    assert (second["follows"], second["seed"], second["drawn"]) == (first["run"], 3, True)
    assert second["faults"] == []
