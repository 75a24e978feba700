"""The program as a process: help, exit codes, pipes, a full disk, signals."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from stagecall import __version__
from stagecall.model.event import Call
from stagecall.record import read

PROGRAM = [sys.executable, "-m", "stagecall"]
PLAIN = {**os.environ, "NO_COLOR": "1", "PYTHONIOENCODING": "utf-8"}
COMMANDS = ("run", "replay", "list", "explain", "import")


def give(*arguments: str, **options: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [*PROGRAM, *arguments],
        check=False,
        capture_output=not options,
        text=True,
        env=PLAIN,
        timeout=60,
        **options,  # type: ignore[call-overload]
    )


def test_help_names_every_command_and_exit_code() -> None:
    said = give("--help")

    assert said.returncode == 0
    assert all(f"\n  {command} " in said.stdout for command in COMMANDS)
    assert all(f"\n    {code} " in said.stdout for code in (0, 1, 2, 3, 4, 130))


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str) -> None:
    said = give(command, "--help")

    assert (said.returncode, said.stderr) == (0, "")
    assert said.stdout.startswith(f"Usage: stagecall {command} ")


def test_help_imports_none_of_the_heavy_libraries() -> None:
    asked = "import sys; sys.argv[1:] = ['--help']; from stagecall.cli import main; main(); print(*sorted(sys.modules))"
    said = subprocess.run([sys.executable, "-c", asked], check=True, capture_output=True, text=True, timeout=60)
    loaded = set(said.stdout.splitlines()[-1].split())

    assert not loaded & {"numpy", "simpy", "rich", "jinja2", "yaml", "serial", "msgspec"}


def test_the_version_is_the_packages() -> None:
    assert give("--version").stdout == f"stagecall, version {__version__}\n"


def test_no_arguments_shows_the_help_and_ends_with_2() -> None:
    said = give()

    assert said.returncode == 2
    assert "Commands:" in said.stderr
    assert "Traceback" not in said.stderr


def test_an_unknown_command_or_option_ends_with_2() -> None:
    said = give("rum")

    assert (said.returncode, said.stdout) == (2, "")
    assert said.stderr.startswith("stagecall: No such command 'rum'.")
    assert said.stderr.endswith("\nTry 'stagecall --help'.\n")
    assert give("list", "--jsn").returncode == 2


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_run_that_is_broken_off_ends_with_130_and_a_closed_log(number: signal.Signals, tmp_path: Path) -> None:
    log = tmp_path / "cut.jsonl"
    with subprocess.Popen(
        [*PROGRAM, "run", "fan", "--pace", "1", "--log", str(log)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=PLAIN,
    ) as process:
        assert process.stderr is not None
        for line in process.stderr:
            if "call G on" in line:
                break
        process.send_signal(number)
        out, err = process.communicate(timeout=60)
    reading = read(log)
    calls = [line for line in reading.lines if isinstance(line, Call)]

    assert process.returncode == 130
    assert err.startswith("Breaking off: all calls go off first.\n")
    assert "NOT VERIFIED  fan" in out
    assert [(call.terminal, call.state) for call in calls] == [("G", "on"), ("G", "off")]
    assert reading.complete


@pytest.mark.parametrize("arguments", [("explain", "fan"), ("--help",), ("run", "--help")])
def test_a_reader_that_goes_away_is_no_error(arguments: tuple[str, ...]) -> None:
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "w") as pipe:
        said = give(*arguments, stdout=pipe, stderr=subprocess.PIPE)

    assert (said.returncode, said.stderr) == (0, "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has a device that is always full")
def test_an_output_that_cannot_be_written_is_told_and_ends_with_2() -> None:
    with Path("/dev/full").open("w") as full:
        said = give("explain", "fan", stdout=full, stderr=subprocess.PIPE)

    assert said.returncode == 2
    assert said.stderr == "stagecall: the output cannot be written: No space left on device\n"


def test_a_terminal_without_degrees_shows_a_question_mark_and_not_a_traceback() -> None:
    environment = {**PLAIN, "PYTHONIOENCODING": "iso8859-5"}
    said = subprocess.run(
        [*PROGRAM, "explain", "compressor-minimum-off"],
        check=False,
        capture_output=True,
        text=True,
        env=environment,
        timeout=60,
    )

    assert (said.returncode, said.stderr) == (0, "")
    assert re.search(r"Outside these conditions .* \?F", said.stdout)
