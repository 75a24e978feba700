"""``stagecall run --draw N`` on a rig that a test holds in its hand."""

from __future__ import annotations

import json
import os
import shlex
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.answering_rig import AnsweringRig
from cli.conftest import Said
from stagecall.cli import drawing
from stagecall.record import read

Command = Callable[..., Said]


def logs() -> list[Path]:
    return sorted(Path().glob("*.run.jsonl"))


def test_machines_that_pass_leave_a_table_and_no_log(command: Command) -> None:
    said = command("run", "--draw", "3", "--seed", "4")

    assert said.code == 0
    assert said.out == (
        "TESTED ON: MODEL\n"
        "system cottage, kit ears, machines drawn by seeds 4 to 6\n"
        "\n"
        "       passed  failed  not verified  least margin, share of the limit\n"
        "fan    3       -       -             88.6% (seed 4): blower turns on within 7 s\n"  # 795 ms of 7 s
        "often  3       -       -             -\n"
        "\n"
        "PASS on the model: 3 of 3 machines passed. A pass on the model is not acceptance of equipment.\n"
    )
    assert said.err == ""
    assert AnsweringRig.drawn == [4, 5, 6]
    assert logs() == []


def test_a_machine_that_fails_is_named_with_its_log(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", (1,))
    said = command("run", "fan", "--draw", "3")
    (log,) = logs()
    reading = read(log)

    assert said.code == 1
    assert "fan    2       1       -" in said.out
    assert f"FAIL seed 1: fan; log {log}\n" in said.out
    assert "FAIL on the model: 2 of 3 machines passed, 1 failed." in said.out
    assert (reading.header.seed, reading.header.drawn) == (1, True)
    assert list(reading.lines)
    assert reading.complete
    assert command("replay", str(log)).code == 1


def test_the_command_that_is_told_runs_that_machine_alone(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", (2,))
    said = command("run", "fan", "--draw", "3")
    (line,) = (line for line in said.out.splitlines() if line.startswith("One alone: "))
    words = shlex.split(line.removeprefix("One alone: "))
    monkeypatch.setattr(AnsweringRig, "drawn", [])
    alone = command(*words[1:], "--log", "alone.jsonl")

    assert words == ["stagecall", "run", "fan", "--system", "cottage", "--kit", "ears", "--draw", "1", "--seed", "2"]
    assert AnsweringRig.drawn == [2]
    assert alone.code == 1
    assert "system cottage, kit ears, a machine drawn by seed 2\n" in alone.out
    assert "Failed: fan." in alone.out
    assert read(Path("alone.jsonl").read_bytes()).header.drawn


def test_more_than_a_few_are_counted_and_each_has_its_log(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", range(100))
    said = command("run", "--draw", "7")

    assert said.out.count("FAIL seed") == 5
    assert "And 2 more machines, each with its log.\n" in said.out
    assert len(logs()) == 7


def test_only_the_first_leave_logs_and_the_others_can_be_run_alone(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", range(100))
    monkeypatch.setattr(drawing, "KEPT", 6)
    said = command("run", "--draw", "9")

    assert (
        "And 4 more machines. The first 6 left their logs; each of the others can be run again alone by its seed.\n"
        in (said.out)
    )
    assert len(logs()) == 6
    assert [one["log"] is None for one in json.loads(command("run", "--draw", "9", "--json").out)["not_passed"]] == (
        [False] * 6 + [True] * 3
    )


def test_json_has_the_numbers(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", (1,))
    said = command("run", "--draw", "3", "--json")
    result = json.loads(said.out)

    assert said.code == 1
    assert {key: result[key] for key in ("result", "tested_on", "drawn", "seed", "asked", "machines")} == {
        "result": "fail", "tested_on": "model", "drawn": True, "seed": 0, "asked": 3, "machines": 3,
    }  # fmt: skip
    assert (result["passed"], result["failed"], result["not_verified"], result["interrupted"]) == (2, 1, 0, False)
    (fan,) = result["sequences"]
    assert (fan["sequence"], fan["passed"], fan["failed"], fan["not_verified"]) == ("fan", 2, 1, 0)
    assert fan["least_margin"] == pytest.approx((7_000 - 795) / 7_000)
    assert fan["least_margin_of"] == {"id": "call-the-fan.1", "seed": 0}
    assert [row["monitor"] for row in result["monitors"]] == ["often"]
    assert result["not_passed"] == [{"seed": 1, "verdict": "fail", "names": ["fan"], "log": str(logs()[0])}]


def test_something_not_verified_ends_with_3(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "blower", "unseen")
    said = command("run", "--draw", "2")

    assert said.code == 3
    assert "NOT VERIFIED on the model: 0 of 2 machines passed, 2 not verified." in said.out


def test_broken_off_it_prints_what_is_done(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def at_the_third(_rig: AnsweringRig) -> None:
        if len(AnsweringRig.drawn) == 3:
            os.kill(os.getpid(), signal.SIGINT)

    monkeypatch.setattr(AnsweringRig, "at_call", at_the_third)
    said = command("run", "--draw", "9")

    assert said.code == 130
    assert "fan    2       -       -" in said.out
    assert "INTERRUPTED: 2 of 9 machines were run.\n" in said.out


def test_broken_off_before_any_is_done_it_proves_nothing(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "at_call", lambda _rig: os.kill(os.getpid(), signal.SIGINT))
    said = command("run", "--draw", "9", "--json")

    assert said.code == 130
    assert (json.loads(said.out)["result"], json.loads(said.out)["machines"]) == ("not_verified", 0)


def test_a_lost_rig_ends_with_4(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "at_call", AnsweringRig.lose)
    said = command("run", "--draw", "2")

    assert (said.code, said.err) == (
        4,
        "stagecall: the machine of seed 0: nothing answers at the end of the cable\n",
    )


def test_a_log_is_never_written_over(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(AnsweringRig, "bad", (0,))
    monkeypatch.setattr(drawing, "run_id", lambda _clock, _token: "same")
    Path("same-0.run.jsonl").write_text("kept", "utf-8")
    said = command("run", "--draw", "2")

    assert (said.code, said.err) == (2, "stagecall: The log same-0.run.jsonl cannot be written: file exists.\n")
    assert Path("same-0.run.jsonl").read_text("utf-8") == "kept"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--draw", "0"), "0 is not in the range x>=1"),
        (("--draw", "2", "--pace", "60"), "--pace shows one machine"),
        (("--draw", "2", "--log", "one.jsonl"), "--log names one log"),
    ],
)
def test_what_means_nothing_for_several_machines_is_refused(
    options: tuple[str, ...], said: str, command: Command
) -> None:
    answer = command("run", *options)

    assert answer.code == 2
    assert said in answer.err
