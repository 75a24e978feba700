"""``stagecall run`` on a rig that a test holds in its hand."""

from __future__ import annotations

import json
import os
import signal
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.answering_rig import AnsweringRig
from cli.conftest import Said
from stagecall.cli import running
from stagecall.errors import LogWriteError
from stagecall.record import Log, read

Command = Callable[..., Said]
NOT_A_PACE = (
    "stagecall: Invalid value for '--pace': a pace is a number above 0: 1 is true speed, 60 is a minute a second\n"
    "Try 'stagecall run --help'.\n"
)


def becomes(monkeypatch: pytest.MonkeyPatch, **behaviour: object) -> None:
    for name, value in behaviour.items():
        monkeypatch.setattr(AnsweringRig, name, value)


def test_a_run_that_passes_ends_with_0_and_says_what_was_shown(command: Command) -> None:
    said = command("run")

    assert said.code == 0
    assert said.out.startswith("TESTED ON: MODEL\nsystem cottage, kit ears, seed 0\n")
    assert "PASS  fan    The fan runs on its own call" in said.out
    assert said.out.endswith(
        "PASS on the model: 1 of 1 sequence passed, 1 of 1 monitor passed. "
        "A pass on the model is not acceptance of equipment.\n"
    )
    assert said.err == "CAUTION: The blower starts.\n"


def test_the_default_log_bears_the_name_of_the_run(command: Command) -> None:
    said = command("run", "--json")
    result = json.loads(said.out)
    log = read(Path(result["log"]))

    assert result["log"] == f"{result['run']}.run.jsonl"
    assert log.header.run == result["run"]
    assert list(log.lines)
    assert log.complete
    assert log.digest == result["digest"]


def test_json_is_one_object_and_nothing_else_is_on_stdout(command: Command) -> None:
    said = command("run", "fan", "--json", "--seed", "7")
    result = json.loads(said.out)

    assert said.code == 0
    assert (result["result"], result["seed"], result["system"], result["kit"]) == ("pass", 7, "cottage", "ears")
    assert [each["sequence"] for each in result["sequences"]] == ["fan"]
    assert result["sequences"][0]["expected"][1]["observed_ms"] == [795, 795]  # from the contact's move at 5 ms


def test_something_failed_ends_with_1(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, blower="silent")
    said = command("run")

    assert said.code == 1
    assert "FAIL" in said.out
    assert "FAIL on the model: 0 of 1 sequence passed" in said.out
    assert "Failed: fan." in said.out


def test_something_not_verified_ends_with_3(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, blower="unseen")
    said = command("run")

    assert said.code == 3
    assert "NOT VERIFIED (not observed): fan" in said.out
    assert "Not seen with kit ears: blower." in said.out


def test_a_lost_rig_ends_with_4_and_its_log_is_closed(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    becomes(monkeypatch, at_call=AnsweringRig.lose)
    said = command("run", "--log", "lost.jsonl")
    log = read(Path("lost.jsonl"))

    assert said.code == 4
    assert "Rig lost: nothing answers at the end of the cable" in said.out
    assert list(log.lines)
    assert log.complete


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_broken_off_it_calls_all_off_closes_the_log_and_ends_with_130(
    number: int, command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    becomes(monkeypatch, at_call=lambda _rig: os.kill(os.getpid(), number))
    before = signal.getsignal(number)
    said = command("run", "--log", "cut.jsonl")
    log = read(Path("cut.jsonl"))
    requests = [line.calls for line in log.lines if type(line).__name__ == "Request"]

    assert said.code == 130
    assert "Breaking off: all calls go off first." in said.err
    assert "NOT VERIFIED" in said.out
    assert requests[-1] == ()
    assert log.complete
    assert signal.getsignal(number) == before


def test_a_full_disk_during_a_run_ends_with_4_and_calls_all_off(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    rigs: list[AnsweringRig] = []

    def full(rig: AnsweringRig) -> None:
        rigs.append(rig)
        monkeypatch.setattr(Log, "append", refuse)

    def refuse(*_arguments: object) -> None:
        raise LogWriteError("The log full.jsonl cannot be written: the disk is full.")

    becomes(monkeypatch, at_call=full)
    said = command("run", "--log", "full.jsonl")

    assert said.code == 4
    assert said.err == (
        "CAUTION: The blower starts.\n"
        "stagecall: The log full.jsonl cannot be written: the disk is full. "
        "All calls are off; what was written until then stays in full.jsonl.\n"
    )
    assert rigs[0].calls == frozenset()
    assert rigs[0].closed


def test_an_existing_log_is_never_written_over(command: Command) -> None:
    Path("here.jsonl").write_text("precious", "utf-8")
    said = command("run", "--log", "here.jsonl")

    assert said.code == 2
    assert said.out == ""
    assert said.err == (
        "stagecall: The log here.jsonl exists already; a log is never written over. Choose another name with --log.\n"
    )
    assert Path("here.jsonl").read_text("utf-8") == "precious"


def test_a_missing_folder_is_told_before_anything_is_called(command: Command) -> None:
    said = command("run", "--log", "nowhere/a.jsonl")

    assert (said.code, said.out) == (2, "")
    assert said.err == "stagecall: The log nowhere/a.jsonl cannot be written: there is no folder nowhere.\n"


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("run", "fam"), "stagecall: no sequence is called 'fam'; did you mean 'fan'?\n"),
        (("run", "--kit", "eats"), "stagecall: no kit is called 'eats'; did you mean 'ears'?\n"),
        (("run", "--system", "cotage"), "stagecall: no system is called 'cotage'; did you mean 'cottage'?\n"),
        (("run", "--fault", "gremlin"), "stagecall: no fault is called 'gremlin'; known: none\n"),
        (("run", "none/fan.yaml"), "stagecall: none/fan.yaml: No such file or directory\n"),
        (
            ("run", "--step-by-step"),
            "stagecall: --step-by-step needs a person at a terminal, to press Enter before each step.\n",
        ),
        (
            ("run", "--pace", "0"),
            NOT_A_PACE,
        ),
        (
            ("run", "--pace", "nan"),
            NOT_A_PACE,
        ),
        (
            ("run", "--seed", "x"),
            "stagecall: Invalid value for '--seed': 'x' is not a valid integer.\nTry 'stagecall run --help'.\n",
        ),
    ],
)
def test_what_makes_no_sense_ends_with_2_and_one_message(
    arguments: tuple[str, ...], message: str, command: Command
) -> None:
    said = command(*arguments)

    assert (said.code, said.out, said.err) == (2, "", message)
    assert list(Path().iterdir()) == []


def test_a_wrong_file_is_told_line_by_line(command: Command, shelf: Path) -> None:
    fan = shelf / "sequences/fan/fan.yaml"
    fan.write_text(fan.read_text("utf-8").replace("within: answer\n", "within: anwser\n"), "utf-8")
    said = command("run")

    assert (said.code, said.out) == (2, "")
    assert said.err.splitlines() == [
        f"{fan}:7:3: the limit 'answer' is not used",
        f"{fan}:16:17: 'anwser' is not a limit of this file; did you mean 'answer'?",
        f"{fan}:22:17: 'anwser' is not a limit of this file; did you mean 'answer'?",
    ]


def test_a_fault_of_our_own_ends_in_a_sentence_too(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def stumble(*_arguments: object, **_options: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr(running, "prepare", stumble)
    said = command("run")

    assert (said.code, said.out) == (2, "")
    assert said.err == (
        "stagecall: a fault in Stagecall itself, not in what you gave it: ZeroDivisionError: division by zero. "
        "Set STAGECALL_TRACEBACK=1 to see where, and please report it.\n"
    )


def test_ctrl_c_before_anything_is_called_ends_with_130(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_arguments: object, **_options: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(running, "prepare", interrupted)
    said = command("run")

    assert (said.code, said.out, said.err) == (130, "", "\nInterrupted.\n")


def test_step_by_step_each_step_waits_for_enter_and_says_why(command: Command, monkeypatch: pytest.MonkeyPatch) -> None:
    class Patient:
        def typed(self) -> list[str]:
            return [""]

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr(running, "typist", Patient)
    said = command("run", "--step-by-step")

    assert said.code == 0
    assert "Call the fan\nThe blower relay answers G.\nEnter: go on. Ctrl-C: break off.\n" in said.err
    assert said.err.count("Enter: go on.") == 2


def test_a_paced_run_tells_each_step_and_what_happens_in_it(command: Command) -> None:
    said = command("run", "--pace", "1000000")

    assert said.code == 0
    assert said.err.splitlines() == [
        "CAUTION: The blower starts.",
        "fan: The fan runs on its own call",
        "    PASS  blower off at the start",
        "  Call the fan (calls G)",
        "    because: The blower relay answers G.",
        "    5 ms  call G on",
        "    800 ms  blower on",
        "    PASS  blower turns on within 7 s",
        "  End the call (no calls)",
        "    5 ms  call G off",
        "    800 ms  blower off",
        "    PASS  blower turns off within 7 s",
        "",
    ]
