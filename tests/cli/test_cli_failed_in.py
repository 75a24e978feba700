"""``stagecall run --failed-in LOG``: only what did not pass there is run again."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest

from cli.answering_rig import AnsweringRig
from cli.conftest import Said
from stagecall.cli import main
from stagecall.model.event import Header, SequenceMark
from stagecall.record import Log, read

Command = Callable[..., Said]
STILL = """\
sequence: still
title: The blower rests without a call
purpose: Nothing may run by itself.
group: acceptance
steps:
  - step: Wait
    call: []
    expect:
      - stays: {blower: off}
        for: 5 s
        tolerate: 1 s
"""


@pytest.fixture
def two(shelf: Path) -> Path:
    """A second sequence in the library, which a silent blower passes; it is run after the fan's."""
    file = shelf / "sequences/fan/still.yaml"
    file.write_text(STILL, "utf-8")
    return file


def header_of(log: str) -> Header:
    return read(Path(log).read_bytes()).header


def run_in(log: str) -> list[str]:
    return [line.name for line in read(Path(log)).lines if isinstance(line, SequenceMark) and line.phase == "begin"]


def becomes(monkeypatch: pytest.MonkeyPatch, **behaviour: object) -> None:
    for name, value in behaviour.items():
        monkeypatch.setattr(AnsweringRig, name, value)


@pytest.mark.usefixtures("two")
def test_only_what_failed_is_run_again_and_the_log_follows_the_first(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    becomes(monkeypatch, blower="silent")
    assert command("run", "--log", "first.jsonl", "--seed", "7").code == 1
    assert run_in("first.jsonl") == ["fan", "still"]
    becomes(monkeypatch, blower="answers")
    said = command("run", "--failed-in", "first.jsonl", "--log", "second.jsonl")
    first, second = header_of("first.jsonl"), header_of("second.jsonl")

    assert said.code == 0
    assert run_in("second.jsonl") == ["fan"]
    assert (second.follows, second.seed, second.drawn) == (first.run, 7, False)
    assert f", follows {first.run}\n" in said.out
    assert command("run", "--failed-in", "second.jsonl").code == 0


def test_every_retest_is_linked_to_the_first_record_which_stays(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    becomes(monkeypatch, blower="silent")
    command("run", "--log", "first.jsonl")
    written = Path("first.jsonl").read_bytes()
    command("run", "--failed-in", "first.jsonl", "--log", "second.jsonl")
    command("run", "--failed-in", "second.jsonl", "--log", "third.jsonl")

    assert header_of("second.jsonl").follows == header_of("third.jsonl").follows == header_of("first.jsonl").run
    assert Path("first.jsonl").read_bytes() == written


def test_a_torn_log_is_never_written_to_and_a_new_one_is_linked(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    becomes(monkeypatch, blower="silent")
    command("run", "--log", "first.jsonl")
    torn = Path("first.jsonl").read_bytes()[:-700]
    Path("first.jsonl").write_bytes(torn)

    assert command("run", "--log", "first.jsonl").code == 2
    command("run", "--failed-in", "first.jsonl", "--log", "second.jsonl")

    assert Path("first.jsonl").read_bytes() == torn
    assert header_of("second.jsonl").follows == header_of("first.jsonl").run


def test_system_kit_seed_and_draw_are_those_of_that_run(
    command: Command, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    becomes(monkeypatch, bad=(5,))
    command("run", "--draw", "1", "--seed", "5", "--log", "first.jsonl")
    code = main(("run", "--failed-in", "first.jsonl", "--log", "second.jsonl"))
    header = header_of("second.jsonl")

    assert code == 1
    assert (header.system, header.kit, header.seed, header.drawn) == ("cottage", "ears", 5, True)
    assert capsys.readouterr().err == "CAUTION: The blower starts.\n"


def test_it_can_be_tried_on_many_machines(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, blower="silent")
    command("run", "--log", "first.jsonl")
    becomes(monkeypatch, blower="answers", bad=(1,))
    said = command("run", "--failed-in", "first.jsonl", "--draw", "2")
    (log,) = Path().glob("*-1.run.jsonl")

    assert said.code == 1
    assert f"follows {header_of('first.jsonl').run}\n" in said.out
    assert (
        "One alone: stagecall run --failed-in first.jsonl --system cottage --kit ears --draw 1 --seed 1\n" in said.out
    )
    assert header_of(str(log)).follows == header_of("first.jsonl").run


@pytest.mark.usefixtures("two")
def test_what_a_broken_off_run_never_came_to_is_left_too(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, at_call=lambda _rig: os.kill(os.getpid(), signal.SIGINT))
    command("run", "--log", "first.jsonl")
    becomes(monkeypatch, at_call=None)
    said = command("run", "--failed-in", "first.jsonl", "--log", "second.jsonl")

    assert run_in("first.jsonl") == ["fan"]
    assert said.code == 0
    assert run_in("second.jsonl") == ["fan", "still"]


def test_a_torn_log_is_told_by_what_can_be_read(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, blower="silent")
    command("run", "--log", "first.jsonl")
    contents = Path("first.jsonl").read_bytes()
    Path("torn.jsonl").write_bytes(contents[: contents.index(b'"k":"step"') + 20])
    said = command("run", "--failed-in", "torn.jsonl", "--log", "second.jsonl")

    assert said.code == 1
    assert "torn.jsonl is damaged: what did not pass is told by what can be read of it.\n" in said.err
    assert run_in("second.jsonl") == ["fan"]


def test_where_all_passed_it_says_so_and_runs_nothing(command: Command) -> None:
    command("run", "--log", "first.jsonl")
    said = command("run", "--failed-in", "first.jsonl")
    as_json = command("run", "--failed-in", "first.jsonl", "--json")

    assert (said.code, said.out) == (0, "Every sequence passed in first.jsonl: nothing is left to run again.\n")
    assert (as_json.code, json.loads(as_json.out)["sequences"]) == (0, [])
    assert list(Path().glob("*.run.jsonl")) == []


def test_a_monitor_alone_cannot_be_run_again(command: Command, shelf: Path) -> None:
    often = shelf / "sequences/monitors/often.yaml"
    often.write_text(often.read_text("utf-8").replace("..6", "..0"), "utf-8")
    assert command("run", "--log", "first.jsonl").code == 1
    said = command("run", "--failed-in", "first.jsonl")

    assert said.code == 2
    assert "every sequence passed in first.jsonl, but not the monitors that watched all of them: often;" in said.err


def test_a_sequence_and_a_system_of_ones_own_are_taken_from_the_log(
    command: Command, shelf: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (shelf / "sequences/fan/fan.yaml").rename("mine.yaml")
    Path("mine.yaml").write_text(
        Path("mine.yaml").read_text("utf-8").replace("sequence: fan", "sequence: mine"), "utf-8"
    )
    (shelf / "sim/systems/cottage.yaml").rename("house.yaml")
    text = Path("house.yaml").read_text("utf-8").replace("system: cottage", "system: house")
    Path("house.yaml").write_text(text.replace("must_run: [fan]", "must_run: []"), "utf-8")
    becomes(monkeypatch, blower="silent")
    command("run", "mine.yaml", "--system", "house.yaml", "--log", "first.jsonl")
    Path("mine.yaml").unlink()
    Path("house.yaml").unlink()
    capsys.readouterr()
    code = main(("run", "--failed-in", "first.jsonl", "--log", "second.jsonl"))

    assert code == 1
    assert "Not in the library, so taken as first.jsonl holds it: system house, sequence mine.\n" in (
        capsys.readouterr().err
    )
    assert run_in("second.jsonl") == ["mine"]
    assert header_of("second.jsonl").system == "house"


@pytest.mark.parametrize(
    ("contents", "said"),
    [
        (None, "The log first.jsonl cannot be read: there is no such file."),
        (b"no log\n", "first.jsonl is not a run log: its first line is no header."),
    ],
)
def test_a_log_that_cannot_be_read_ends_with_2(contents: bytes | None, said: str, command: Command) -> None:
    if contents is not None:
        Path("first.jsonl").write_bytes(contents)
    answer = command("run", "--failed-in", "first.jsonl")

    assert (answer.code, answer.out, answer.err) == (2, "", f"stagecall: {said}\n")


def test_a_log_cut_before_its_sequences_is_not_taken_for_passed(command: Command) -> None:
    command("run", "--log", "first.jsonl")
    Path("cut.jsonl").write_bytes(Path("first.jsonl").read_bytes().splitlines(keepends=True)[0])
    said = command("run", "--failed-in", "cut.jsonl")

    assert (said.code, said.out) == (2, "")
    assert "cut.jsonl holds no sequences that could be run again" in said.err


def test_a_recording_holds_nothing_that_could_be_run_again(command: Command) -> None:
    command("run", "--log", "first.jsonl")
    header = msgspec.structs.replace(header_of("first.jsonl"), tested_on="recorded log")
    Log.create(Path("recorded.jsonl"), header).close()
    said = command("run", "--failed-in", "recorded.jsonl")

    assert (said.code, said.err) == (2, "stagecall: recorded.jsonl holds no sequences that could be run again\n")


def test_sequences_are_named_or_taken_from_a_log(command: Command) -> None:
    said = command("run", "fan", "--failed-in", "first.jsonl")

    assert said.code == 2
    assert "either name sequences, or take those that did not pass with --failed-in" in said.err
