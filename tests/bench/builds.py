"""Where the firmware lies and how its pieces are compiled."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

HARDWARE = Path(__file__).parents[2] / "hardware"
FIRMWARE = HARDWARE / "firmware"
HERE = Path(__file__).parent
STRICT = ("-Wall", "-Wextra", "-pedantic", "-Werror")
CORE = ("-std=c99", *STRICT, "-I", str(FIRMWARE / "ports/pc"), "-I", str(FIRMWARE / "core"))


def core_sources() -> list[str]:
    shared = (FIRMWARE / "ports/pc/world.c", FIRMWARE / "ports/pc/faults.c")
    return [str(p) for p in (*sorted((FIRMWARE / "core").glob("*.c")), *shared)]


def need(what: str, packages: str, *present: bool) -> None:
    if not all(present):
        pytest.skip(f"{what} needs the Debian packages {packages}")


def found(*programs: str) -> bool:
    return all(shutil.which(p) for p in programs)


def includes(header: str) -> bool:
    command = (shutil.which("cc") or "cc", "-E", "-I/usr/include/simavr", "-")
    source = f"#include <{header}>\n"
    return subprocess.run(command, input=source, capture_output=True, text=True, check=False).returncode == 0


def compiled(*command: str, cwd: Path | None = None) -> str:
    done = subprocess.run(command, capture_output=True, text=True, cwd=cwd, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    return done.stdout
