"""What the README says can be typed is what there is, and what the CI script calls."""

from __future__ import annotations

import re
from pathlib import Path

from click.testing import CliRunner

from stagecall.cli.commands import stagecall

CHECKOUT = Path(__file__).parents[2]
README = (CHECKOUT / "README.md").read_text(encoding="utf-8")


def commands() -> list[str]:
    return re.findall(r"```\n(.+?)\n```", README, re.DOTALL)[:2]


def test_the_first_screen_has_the_two_commands() -> None:
    main_job, tests = commands()

    assert main_job == "python3 -m venv .venv && .venv/bin/pip install . && .venv/bin/stagecall run"
    assert tests == "python3 -m venv .venv && .venv/bin/pip install -e '.[dev]' && .venv/bin/pytest"
    assert README.index(tests) < README.index("## What it does")


def test_the_ci_script_calls_the_second_command() -> None:
    script = (CHECKOUT / ".ci" / "run").read_text(encoding="utf-8")

    assert commands()[1].replace("pip install -e", "pip install -q -e") in script


def test_every_command_and_option_named_in_the_readme_is_there() -> None:
    runner = CliRunner()
    named = set(re.findall(r"`stagecall ([a-z-]+)", README))

    assert named
    for name in named:
        shown = runner.invoke(stagecall, [name, "--help"])
        assert shown.exit_code == 0, name
        for line in re.findall(rf"`stagecall {name}[^`]*`", README):
            inner = re.match(r"`stagecall board ([a-z-]+)", line)
            told = runner.invoke(stagecall, [name, inner[1], "--help"]) if inner else shown
            assert told.exit_code == 0, line
            for option in re.findall(r"--[a-z-]+", line):
                assert option in told.output
