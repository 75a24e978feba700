"""The house rule of floors, read from the real imports: a module knows its own room and lower floors, nothing else."""

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import stagecall

PACKAGE = Path(stagecall.__file__).parent
FLOORS = [
    {"errors"},
    {"units"},
    {"points"},
    {"model"},
    {"documents", "circuit", "judge", "record"},
    {"plant", "wiring", "imports"},
    {"rigs"},
    {"run"},
    {"report"},
    {"cli"},
    {"__main__"},
]
"""Rooms from the ground up; the three files of the ground floor stand on each other in this order."""

ONLY_DOORS = {
    "time": {"rigs.clock"},
    "serial": {"rigs.board"},
    "pymodbus": {"rigs.modbus"},
    "simpy": {"plant", "rigs.simulated"},
}
"""What these modules and rooms alone may import."""

MUST_NOT_KNOW = {
    "plant": {"model.sequence", "model.verdict"},
    "run": {"rigs.simulated", "rigs.board", "rigs.modbus", "rigs.by_hand", "rigs.faulty"},
    "report": {"rigs"},
}
"""Lower floors that a room must not know all the same."""

WHEN_NEEDED = {"distributed", "numpy", "jinja2", "rich", "simpy", "serial", "pymodbus"}
"""Slow to import, or absent where their rig is not used: nothing imports them before they are wanted."""


def module_name(path):
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_name(path): path for path in sorted(PACKAGE.rglob("*.py"))}
"""Every module by its name below ``stagecall`` (its own is empty)."""


def imported(source, importer, modules):
    """The full names of all that *source* imports, wherever it does so; strings that name a module count."""
    is_package = any(name.startswith(f"{importer}.") for name in modules) or not importer
    found = set()
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Import(names=names):
                found.update(alias.name for alias in names)
            case ast.ImportFrom(module=module, names=names, level=level):
                base = module or ""
                if level:
                    parts = ["stagecall", *importer.split(".")] if importer else ["stagecall"]
                    parts = parts[: len(parts) - level + is_package]
                    base = ".".join([*parts, module] if module else parts)
                found.update(
                    full if (full := f"{base}.{alias.name}").removeprefix("stagecall.") in modules else base
                    for alias in names
                )
            case ast.Constant(value=str(text)) if re.fullmatch(r"stagecall(\.\w+)+", text):
                found.add(text)
    return found


def complaints(importer, source, modules=MODULES):
    """Each way in which that module breaks the rule."""
    shown = importer or "stagecall"
    room = importer.split(".", maxsplit=1)[0]
    found = []
    for name in sorted(imported(source, importer, modules)):
        if name != "stagecall" and not name.startswith("stagecall."):
            doors = ONLY_DOORS.get(name.split(".", maxsplit=1)[0])
            if doors is not None and not any(within(importer, door) for door in doors):
                found.append(f"{shown} imports {name}")
            continue
        known = name.removeprefix("stagecall").removeprefix(".")
        other = known.split(".", maxsplit=1)[0]
        allowed = not other or other == room or floor(other) < floor(room)
        if not allowed or any(within(known, hidden) for hidden in MUST_NOT_KNOW.get(room, ())):
            found.append(f"{shown} imports {known}")
    return found


def within(module, room):
    return module == room or module.startswith(f"{room}.")


def floor(room):
    """The package itself stands below everything: it may import no room, and any room may read it."""
    if not room:
        return -1
    found = [number for number, rooms in enumerate(FLOORS) if room in rooms]
    assert found, f"{room!r} has no floor in the house"
    return found[0]


@pytest.mark.parametrize("importer", MODULES)
def test_a_module_imports_only_from_its_own_room_or_lower_floors(importer):
    assert complaints(importer, MODULES[importer].read_text("utf-8")) == []


@pytest.mark.parametrize(
    ("importer", "line", "complaint"),
    [
        ("units", "import stagecall.errors", None),
        ("errors", "import stagecall.units", "errors imports units"),
        ("judge.forms", "from stagecall.model.event import Edge", None),
        ("judge.forms", "from stagecall import points", None),
        ("judge.forms", "from stagecall import __version__", None),
        ("judge.forms", "from stagecall.record import log", "judge.forms imports record"),
        ("judge.forms", "from stagecall import report", "judge.forms imports report"),
        ("judge.forms", "import stagecall.cli as face", "judge.forms imports cli"),
        ("judge.forms", "from . import clauses", None),
        ("judge.forms", "from .clauses import Stays", None),
        ("judge", "from .forms import Stays", None),
        ("judge.forms", "from .. import cli", "judge.forms imports cli"),
        ("judge.forms", "from ..report.table import draw", "judge.forms imports report.table"),
        ("judge", "from ..report import draw", "judge imports report"),
        ("judge.forms", "def late():\n    from stagecall.run import loop", "judge.forms imports run"),
        ("judge.forms", "import_module('stagecall.rigs.board')", "judge.forms imports rigs.board"),
        ("rigs.registry", "MODULES = {'simulated': 'stagecall.rigs.simulated'}", None),
        ("", "from stagecall.errors import ExitCode", "stagecall imports errors"),
        ("", "from .errors import ExitCode", "stagecall imports errors"),
        ("__main__", "from stagecall.cli import main", None),
        ("rigs.clock", "import time", None),
        ("rigs.board", "import time", "rigs.board imports time"),
        ("cli", "from time import monotonic", "cli imports time"),
        ("rigs.board", "import serial.tools.list_ports", None),
        ("cli", "from serial import tools", "cli imports serial"),
        ("plant.contactor", "import simpy", None),
        ("rigs.simulated", "import simpy", None),
        ("rigs.guard", "import simpy", "rigs.guard imports simpy"),
        ("plant.contactor", "from stagecall.model.verdict import Verdict", "plant.contactor imports model.verdict"),
        ("run.machine", "from stagecall.rigs import contract", None),
        ("run.machine", "from stagecall.rigs import board", "run.machine imports rigs.board"),
        ("report.terminal", "import stagecall.rigs.contract", "report.terminal imports rigs.contract"),
    ],
)
def test_an_import_is_judged_however_it_is_written(importer, line, complaint):
    rooms = ["errors", "units", "points", "model", "judge", "record", "rigs", "run", "report", "cli", "__main__"]
    modules = {"", *rooms, "judge.forms", "judge.clauses", "model.event", "model.verdict", "report.table", "rigs.board"}

    assert complaints(importer, line, modules) == ([] if complaint is None else [complaint])


def test_a_room_that_is_not_in_the_house_is_found():
    with pytest.raises(AssertionError, match="'cellar' has no floor"):
        complaints("cellar.wine", "from stagecall.errors import ExitCode")


def test_asking_for_help_imports_nothing_slow():
    program = """
import sys
from stagecall.cli import main
sys.argv = ["stagecall", "--help"]
try:
    main()
except SystemExit as end:
    assert not end.code, end.code
print("modules:", *sys.modules)
"""
    answer = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)

    assert answer.returncode == 0, answer.stderr
    text, _, loaded = answer.stdout.rpartition("modules:")
    assert "replay" in text
    assert {name.split(".")[0] for name in loaded.split()} & WHEN_NEEDED == set()
