"""``stagecall list`` and ``stagecall explain``."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from cli.conftest import Said

Command = Callable[..., Said]


def test_the_list_is_grouped_with_titles(command: Command) -> None:
    said = command("list")

    assert said.code == 0
    assert said.out == (
        "sequences\n"
        "  fan\n"
        "    fan            The fan runs on its own call\n"
        "\n"
        "monitors\n"
        "  often            The blower does not start too often\n"
        "\n"
        "equipment\n"
        "  small-handler    A small air handler\n"
        "\n"
        "systems\n"
        "  cottage          A blower and its control\n"
        "\n"
        "kits\n"
        "  ears             Ears\n"
        "\n"
        "faults\n"
        "\n"
        "maps\n"
    )


def test_the_list_of_a_system_says_what_must_and_what_may_run_on_it(command: Command) -> None:
    said = command("list", "--system", "cottage")

    assert said.code == 0
    assert said.out.startswith("cottage: A blower and its control\n")
    assert "must run\n  fan" in said.out or "may run\n  fan" in said.out
    listed = json.loads(command("list", "--system", "cottage", "--json").out)
    assert listed["system"] == "cottage"
    assert [*listed["must_run"], *listed["may_run"]] == ["fan"]
    assert listed["not_applicable"] == []


def test_the_list_of_a_system_that_is_not_there_says_so(command: Command) -> None:
    said = command("list", "--system", "cotage")

    assert (said.code, said.out) == (2, "")
    assert "did you mean 'cottage'" in said.err


def test_the_list_as_json_has_a_shelf_for_each_kind(command: Command) -> None:
    assert json.loads(command("list", "--json").out) == {
        "sequences": [
            {
                "name": "fan",
                "title": "The fan runs on its own call",
                "group": "fan",
                "takes_ms": [0, 20_000],
                "starts": ["blower"],
                "calls": ["G"],
            }
        ],
        "monitors": [{"name": "often", "title": "The blower does not start too often"}],
        "equipment": [{"name": "small-handler", "title": "A small air handler"}],
        "systems": [{"name": "cottage", "title": "A blower and its control"}],
        "kits": [{"name": "ears", "title": "Ears"}],
        "faults": [],
        "maps": [],
    }


def test_a_narrow_terminal_lists_name_and_title_one_under_the_other(
    command: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "30")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    monkeypatch.setenv("NO_COLOR", "1")
    said = command("list")

    assert "  cottage\n    A blower and its control\n" in said.out
    assert max(map(len, said.out.splitlines())) <= 30


def test_a_sequence_is_explained_by_itself(command: Command) -> None:
    said = command("explain", "fan")

    assert said.code == 0
    assert said.out == (
        "fan: The fan runs on its own call\n"
        "G alone must start the blower and nothing else.\n"
        "By itself: every part is taken to be there, and each limit is at its default. "
        "--system resolves it for one.\n"
        "It takes at most 20 s, starts: blower; calls: G.\n"
        "\n"
        "It needs calls G; blower to be there.\n"
        "It begins with blower off.\n"
        "CAUTION: The blower starts.\n"
        "\n"
        "1. Call the fan\n"
        "   because: The blower relay answers G.\n"
        "   Calls G. Lasts until every expectation has settled.\n"
        "   - Expected: blower turns on within 10 s.\n"
        "     because: A slow one has a bad relay.\n"
        "     Limit answer: within 10 s, the default; source: boards answer within seconds. "
        "The maker's cool blower on delay would move it to that figure ± 2 s.\n"
        "\n"
        "2. End the call\n"
        "   Makes no call. Lasts until every expectation has settled.\n"
        "   - Expected: blower turns off within 10 s.\n"
        "     Limit answer: within 10 s, the default; source: boards answer within seconds. "
        "The maker's cool blower on delay would move it to that figure ± 2 s.\n"
    )


def test_for_a_system_each_limit_says_that_the_makers_figure_moved_it(command: Command) -> None:
    said = command("explain", "fan", "--system", "cottage")

    assert "On system cottage.\n" in said.out
    assert "Expected: blower turns on within 7 s.\n" in said.out
    assert "Limit answer: within 7 s, from the maker's data for this system; source: its data sheet.\n" in said.out


def test_a_clipped_limit_says_so(command: Command, shelf: Path) -> None:
    fan, cottage = shelf / "sequences/fan/fan.yaml", shelf / "sim/systems/cottage.yaml"
    fan.write_text(fan.read_text("utf-8").replace("allow: 2 s", "allow: 2 s, never_above: 10 s"), "utf-8")
    cottage.write_text(cottage.read_text("utf-8").replace("value: 5 s", "value: 9 s"), "utf-8")
    said = command("explain", "fan", "--system", "cottage")

    assert (
        "Limit answer: within 10 s, from the maker's data for this system, never above 10 s (clipped); "
        "source: its data sheet.\n"
    ) in said.out


def test_what_the_system_lacks_is_said(command: Command, shelf: Path) -> None:
    cottage = shelf / "sim/systems/cottage.yaml"
    cottage.write_text(cottage.read_text("utf-8").replace("{name: G, from: control.G, to: handler.G}", ""), "utf-8")
    cottage.write_text(cottage.read_text("utf-8").replace("conductors:\n  - ", "conductors: []"), "utf-8")
    said = command("explain", "fan", "--system", "cottage")

    assert "Not applicable here: G not wired here.\n" in said.out
    assert "It takes" not in said.out


def test_a_monitor_is_explained_too(command: Command) -> None:
    assert command("explain", "often").out == (
        "often: The blower does not start too often\n"
        "A relay that chatters wears out.\n"
        "By itself: every part is taken to be there, and each limit is at its default. "
        "--system resolves it for one.\n"
        "\n"
        "It needs blower to be there.\n"
        "It makes no calls and judges whatever happens.\n"
        "- Expected: blower turns on at most 6 times in any 1:00:00 h.\n"
        "  Limit starts: at most 6, the default; source: thermostats allow six cycles an hour.\n"
    )


@pytest.mark.parametrize("file", ["sequences/fan/fan.yaml", "sequences/monitors/often.yaml"])
def test_a_file_is_explained_as_a_name_is(file: str, command: Command, shelf: Path) -> None:
    assert command("explain", str(shelf / file)).out == command("explain", Path(file).stem).out


def test_a_block_is_put_in_with_its_own_limits(command: Command, shelf: Path) -> None:
    (shelf / "sequences/blocks/begin.yaml").write_text(
        "block: begin\n"
        "title: The fan begins\n"
        "limits:\n"
        "  quick:\n"
        "    default: ..5 s\n"
        "    source: a good relay\n"
        "    maker_data: cool_blower_on_delay\n"
        "    allow: 10 %\n"
        "    never_above: 8 s\n"
        "steps:\n"
        "  - step: Begin\n"
        "    call: [G]\n"
        "    lasts: 1 min\n"
        "    keep: 10 s\n"
        "    expect:\n"
        "      - turns: {blower: on}\n"
        "        within: quick\n"
        "        usual: ..2 s\n"
        "      - stays: {blower: on}\n"
        "        since: {blower: on}\n"
        "        for: 20 s\n",
        "utf-8",
    )
    fan = shelf / "sequences/fan/fan.yaml"
    fan.write_text(fan.read_text("utf-8").replace("steps:\n", "steps:\n  - use: begin\n"), "utf-8")
    said = command("explain", "fan")

    assert (
        "1. Begin\n"
        "   Calls G. Lasts 1 min, and 10 s more.\n"
        "   - Expected: blower turns on within 5 s.\n"
        "     Limit quick: within 5 s, the default; source: a good relay. "
        "The maker's cool blower on delay would move it to that figure ± 10 %, never above 8 s.\n"
        "     Usual: within 2 s.\n"
    ) in said.out


def test_an_unknown_name_ends_with_2_and_the_nearest(command: Command) -> None:
    said = command("explain", "fam")

    assert (said.code, said.out, said.err) == (2, "", "stagecall: nothing is called 'fam'; did you mean 'fan'?\n")


def test_a_system_is_not_explained_and_the_command_that_lists_its_sequences_is_named(command: Command) -> None:
    said = command("explain", "cottage")

    assert (said.code, said.out) == (2, "")
    assert said.err == (
        "stagecall: cottage is a system; 'stagecall list --system cottage' says which sequences run on it\n"
    )
