"""``stagecall import``: somebody else's recording, judged."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.conftest import Said

Command = Callable[..., Said]

MAP = """\
map: fan-logger
title: A logger on the blower
rows: samples
table: {delimiter: comma, decimal: point}
time: {column: Time, format: "%Y-%m-%d %H:%M:%S", zone: +00:00, interval: 10 s}
columns:
  - {column: Fan, point: blower, sensed: amps, on_from: 0.5}
"""


@pytest.fixture
def recording(shelf: Path) -> tuple[str, str]:
    """Ten minutes; the fan runs in every fourth one."""
    rows = [f"2026-05-01 08:{row // 6:02d}:{row % 6}0,{2.1 if row // 6 % 4 == 1 else 0.0}" for row in range(60)]
    Path("fan.csv").write_text("\n".join(["Time,Fan", *rows]) + "\n", "utf-8")
    Path("fan-logger.yaml").write_text(MAP, "utf-8")
    assert shelf.is_dir()
    return ("fan.csv", "fan-logger.yaml")


def test_a_recording_is_judged_by_the_monitors_that_apply(command: Command, recording: tuple[str, str]) -> None:
    table, map_file = recording
    said = command("import", table, "--map", map_file, "--log", "a.jsonl")

    assert said.code == 0
    assert said.out.startswith("TESTED ON: RECORDED LOG\nsystem unknown, kit fan-logger\n")
    assert "PASS  often  The blower does not start too often" in said.out
    assert said.out.endswith(
        "PASS in the recorded log: 1 of 1 monitor passed. A recorded log shows only what its columns hold.\n"
    )


def test_the_log_it_writes_replays_to_the_same(command: Command, recording: tuple[str, str]) -> None:
    table, map_file = recording
    imported = json.loads(command("import", table, "--map", map_file, "--log", "a.jsonl", "--json").out)
    replayed = json.loads(command("replay", "a.jsonl", "--json").out)

    assert replayed["agrees"] is True
    assert {key: replayed[key] for key in imported} == imported


def test_a_monitor_named_must_be_judged(command: Command, recording: tuple[str, str], shelf: Path) -> None:
    often = shelf / "sequences/monitors/often.yaml"
    other = often.with_name("compressor.yaml")
    other.write_text(often.read_text("utf-8").replace("blower", "compressor").replace("often", "compressor"), "utf-8")
    table, map_file = recording
    said = command("import", table, "--map", map_file, "--monitor", "compressor", "--log", "a.jsonl")

    assert said.code == 3
    assert "NOT VERIFIED (not observed): compressor" in said.out
    assert "often" not in said.out


def test_where_no_monitor_applies_it_says_so_and_writes_nothing(
    command: Command, recording: tuple[str, str], shelf: Path
) -> None:
    often = shelf / "sequences/monitors/often.yaml"
    often.write_text(often.read_text("utf-8").replace("blower", "compressor"), "utf-8")
    table, map_file = recording
    said = command("import", table, "--map", map_file, "--log", "a.jsonl")

    assert (said.code, said.out) == (2, "")
    assert said.err == "stagecall: no monitor needs only what this map supplies (blower)\n"
    assert not Path("a.jsonl").exists()


def test_a_map_of_the_library_is_taken_by_its_name(command: Command, recording: tuple[str, str], shelf: Path) -> None:
    (shelf / "sim/maps").mkdir()
    Path(recording[1]).rename(shelf / "sim/maps/fan-logger.yaml")

    assert command("import", recording[0], "--map", "fan-logger", "--log", "a.jsonl").code == 0
    assert command("import", recording[0], "--map", "fan-loger").err == (
        "stagecall: no map is called 'fan-loger'; did you mean 'fan-logger'?\n"
    )


def test_a_map_must_be_named(command: Command, recording: tuple[str, str]) -> None:
    said = command("import", recording[0])

    assert (said.code, said.out) == (2, "")
    assert said.err == "stagecall: Missing option '--map'.\nTry 'stagecall import --help'.\n"


def test_a_missing_table_is_told(command: Command, recording: tuple[str, str]) -> None:
    said = command("import", "none.csv", "--map", recording[1])

    assert (said.code, said.out) == (2, "")
    assert "none.csv" in said.err
