"""The commands and their options. What a command does stands in a module of its own, imported when it is called."""

from __future__ import annotations

import math
from typing import Any

import click

import stagecall as package

CONTEXT = {"help_option_names": ["-h", "--help"], "max_content_width": 100}

JSON = click.option("--json", "as_json", is_flag=True, help="Print one JSON object, and nothing else, on stdout.")


def _finite(_context: click.Context, _option: click.Parameter, pace: float | None) -> float | None:
    if pace is not None and not (math.isfinite(pace) and pace > 0):
        raise click.BadParameter("a pace is a number above 0: 1 is true speed, 60 is a minute a second")
    return pace


HELP = """Commissioning test sequences for 24 VAC heating and cooling equipment.

A sequence calls for stages and says, with a clock, what the equipment must do in answer. Every run leaves one log;
every verdict can be judged again from it.

This program is no safety device. The maker's sheet, the local code and licensed practice govern.

\b
Exit codes:
  0    all passed
  1    something failed
  2    bad input or usage; nothing was called
  3    something was not verified
  4    the rig was lost
  130  interrupted
"""


@click.group(context_settings=CONTEXT, help=HELP)
@click.version_option(package.__version__, prog_name="stagecall")
def stagecall() -> None:
    """All commands."""


@stagecall.command(short_help="Run sequences and judge them.")
@click.argument("sequences", nargs=-1, metavar="[SEQUENCE]...")
@click.option("--rig", default="simulated", metavar="NAME[:WHERE]", help="What it runs on; else the model.")
@click.option("--system", default=None, help="What is installed: a name, or a file.")
@click.option("--kit", default=None, help="What the tester can see: a name, or a file.")
@click.option("--pace", type=float, callback=_finite, metavar="N", help="N times real time; 1 is true speed.")
@click.option("--step-by-step", is_flag=True, help="Stop before each step, say why it is done, go on with Enter.")
@click.option(
    "--fault", "faults", multiple=True, metavar="NAME[@TARGET][=SEVERITY]", help="Put a fault in; may be repeated."
)
@click.option("--seed", type=int, default=None, help="Of the model's random draws; 0 where none is given.")
@click.option(
    "--draw",
    type=click.IntRange(min=1),
    metavar="N",
    help="Run on N healthy machines, drawn over the range seen by the seeds from --seed on.",
)
@click.option(
    "--failed-in",
    type=click.Path(),
    metavar="LOG",
    help="Run only what did not pass in that log, on its system and with its kit unless others are named.",
)
@click.option(
    "--after-dry",
    type=click.Path(),
    metavar="LOG",
    help="The clean dry run of this system, before relays call it live.",
)
@click.option("--log", type=click.Path(dir_okay=False), metavar="FILE", help="The log; else ./RUN.run.jsonl.")
@JSON
@click.option("--unattended", is_flag=True, help="Nobody is there to answer questions.")
def run(**options: Any) -> int:
    """Run sequences and judge them; without a name all that apply to the system."""
    from stagecall.cli import running  # noqa: PLC0415 - imported when called

    return running.run(running.Options(**options))


@stagecall.command(short_help="Judge a log anew.")
@click.argument("log", type=click.Path())
@JSON
def replay(log: str, *, as_json: bool) -> int:
    """Judge a log anew, and say whether the verdicts stored in it agree."""
    from stagecall.cli import replaying  # noqa: PLC0415 - imported when called

    return replaying.replay(log, as_json=as_json)


@stagecall.group(short_help="A relay and sense board: what is there, and is it wired as its kit says.")
def board() -> None:
    """Find a board, ask what it is, move its relays by hand, and check a bench against its kit file."""


@board.command("list", short_help="The serial ports of this computer.")
@JSON
def list_ports(*, as_json: bool) -> int:
    """List the serial ports. None is opened, so a run that holds one is not disturbed."""
    from stagecall.cli import boards  # noqa: PLC0415 - imported when called

    return boards.list_ports(as_json=as_json)


@board.command(short_help="What answers at a port, and its self-test.")
@click.argument("port")
@JSON
def identify(port: str, *, as_json: bool) -> int:
    """Say what answers at a port, with its firmware, channels, bounds and self-test. No relay moves."""
    from stagecall.cli import boards  # noqa: PLC0415 - imported when called

    return boards.tell_identity(port, as_json=as_json)


_BENCH = (
    click.option("--rig", required=True, metavar="NAME:WHERE", help="The board, as for 'run': board:PORT."),
    click.option("--system", required=True, help="What it is wired to: a name, or a file."),
    click.option("--kit", required=True, help="How it is wired: a name, or a file."),
    click.option("--log", type=click.Path(dir_okay=False), metavar="FILE", help="The log; else ./RUN.run.jsonl."),
)


def _bench(command: Any) -> Any:
    for option in reversed(_BENCH):
        command = option(command)
    return command


@board.command(short_help="Move relays by hand, and see what answers.")
@_bench
@JSON
def exercise(**options: Any) -> int:
    """Make and drop calls by typing their letters, through the guard; all is logged, and the monitors watch."""
    from stagecall.cli import boards, running  # noqa: PLC0415 - imported when called

    return boards.exercise(running.Options(**options))


@board.command("point-to-point", short_help="Check a bench against its kit, point by point.")
@_bench
@JSON
@click.option("--unattended", is_flag=True, help="Nobody is there to hold leads and answer questions.")
def point_to_point(**options: Any) -> int:
    """Check each relay and each input of a bench against its kit file, before the first sequence."""
    from stagecall.cli import boards, running  # noqa: PLC0415 - imported when called

    return boards.point_to_point(running.Options(**options))


@stagecall.command("list", short_help="What the library holds.")
@click.option("--system", default=None, help="List the sequences of this system instead: a name, or a file.")
@JSON
def list_(*, system: str | None, as_json: bool) -> int:
    """List sequences, monitors, equipment, systems, kits and faults; or what must and what may run on one system."""
    from stagecall.cli import listing  # noqa: PLC0415 - imported when called

    return listing.list_(as_json=as_json) if system is None else listing.list_system(system, as_json=as_json)


@stagecall.command(short_help="A sequence, a fault or a machine in plain sentences.")
@click.argument("name")
@click.option("--system", default=None, help="Resolve limits and calls for this system: a name, or a file.")
def explain(name: str, system: str | None) -> int:
    """Say in plain sentences what a sequence (or monitor) does and why, and where each limit comes from.

    Of a fault: what it shows and what must catch it. Of a machine: its parts, and what of them can be changed.
    """
    from stagecall.cli import explaining  # noqa: PLC0415 - imported when called

    return explaining.explain(name, system)


@stagecall.command(short_help="The JSON Schema of a kind of file.")
@click.argument("kind")
def schema(kind: str) -> int:
    """Print the JSON Schema (draft 2020-12) of a kind of file, so that an editor completes and checks.

    KIND is sequence, block, monitor, system, kit, equipment, fault or map.
    """
    from stagecall.cli import schemas  # noqa: PLC0415 - imported when called

    return schemas.print_schema(kind)


@stagecall.command("import", short_help="Judge somebody else's recording.")
@click.argument("table", type=click.Path(dir_okay=False), metavar="FILE.csv")
@click.option("--map", "map_file", required=True, metavar="MAP", help="What the columns mean: a name, or a file.")
@click.option("--monitor", "monitors", multiple=True, metavar="NAME", help="Judge by this monitor; may be repeated.")
@click.option("--log", type=click.Path(dir_okay=False), metavar="FILE", help="The log; else ./RUN.run.jsonl.")
@JSON
def import_(table: str, map_file: str, monitors: tuple[str, ...], log: str | None, *, as_json: bool) -> int:
    """Make a log of somebody else's recording, and judge it by the monitors that apply."""
    from stagecall.cli import importing  # noqa: PLC0415 - imported when called

    return importing.import_(table, map_file, monitors=monitors, log=log, as_json=as_json)


@stagecall.command(short_help="How much the sequences catch.")
@click.option("--system", "systems", multiple=True, metavar="SYSTEM", help="On this system; may be repeated.")
@click.option("--sequence", "sequences", multiple=True, metavar="SEQUENCE", help="With this one; may be repeated.")
@click.option("--kit", "kits", multiple=True, metavar="KIT", help="Seen with this kit; may be repeated.")
@click.option("--jobs", type=click.IntRange(min=1), metavar="N", help="Processes; else one for each core.")
@click.option("--on", metavar="dask://HOST:PORT", help="Let the workers of this Dask scheduler do it.")
@click.option(
    "--draws", type=click.IntRange(min=1), default=300, show_default=True, metavar="N", help="Healthy machines."
)
@JSON
@click.option("--csv", type=click.Path(dir_okay=False), metavar="FILE", help="Write a row for each fault run.")
@click.option(
    "--matrix", type=click.Path(dir_okay=False), metavar="FILE", help="Write a page (HTML): who catches what."
)
@click.option(
    "--resume",
    type=click.Path(dir_okay=False),
    metavar="FILE",
    help="Results so far; else ./cover-DIGEST.results.jsonl.",
)
def cover(**options: Any) -> int:
    """Run every fault of the catalogue against every sequence that applies, and say what is caught.

    Without options: every system, every sequence, every kit. Results are kept as they come: after Ctrl-C the same
    command goes on from there.
    """
    from stagecall.cli import covering  # noqa: PLC0415 - imported when called

    return covering.cover(covering.Options(**options))
