"""What the build says of the firmware, and what it must refuse."""

from __future__ import annotations

import random
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from builds import FIRMWARE, compiled
from simulated_board import CYCLES_PER_MS, LARGE, SMALL, Bench, Part, load
from vectors import VECTORS

from stagecall.rigs.frames import seal

MakeBoard = Callable[[Part], Bench]
BOTH = pytest.mark.parametrize("part", [SMALL, LARGE], ids=lambda p: p.name)


def figures(build: Path, part: Part) -> dict[str, int]:
    name = part.elf.removesuffix(".elf")
    line = next(row for row in (build / "figures.txt").read_text().splitlines() if row.startswith(f"{name}: flash"))
    words = r"flash (?P<flash>\d+) of \d+, RAM (?P<ram>\d+) of (?P<all_ram>\d+), worst stack (?P<stack>\d+)"
    match = re.search(words, line)
    assert match is not None
    return {key: int(value) for key, value in match.groupdict().items()}


@BOTH
def test_the_stack_never_reaches_what_the_build_allows(avr_build: Path, board: MakeBoard, part: Part) -> None:
    """RAM is painted, then the board is given everything at once: commands, nonsense, edges, stops."""
    told, bench, dice = figures(avr_build, part), board(part), random.Random(1)
    bench.run(5)
    start = 0x100 if part is SMALL else 0x200
    bench.paint_stack(start + told["ram"])
    for i in range(len(part.inputs)):
        for n in range(20):
            bench.switch(i, bench.cycle + (5 + 31 * n + i) * CYCLES_PER_MS, closed=n % 2 == 0)
    for body in (*VECTORS["commands"], "CONF:READ (@1),(@1),STOP", "CONF:LOCK", "OUTP ON", "ROUT:CLOS (@1)"):
        bench.send(seal(">", dice.randrange(256), body) + dice.randbytes(9))
        bench.send(seal(">", dice.randrange(256), body))
        bench.run(9)
    bench.run(1_200)

    used = bench.deepest_stack(start + told["ram"])
    assert bench.resets() == 0
    assert told["stack"] // 2 < used <= told["stack"]
    assert told["ram"] + told["stack"] <= told["all_ram"] - 128


@BOTH
def test_the_build_refuses_other_fuse_bytes(avr_build: Path, part: Part) -> None:
    """Brown-out at another voltage, or a watchdog that firmware could leave off."""
    for fuses in (("FF", "C1", "FF"), ("FF", "D1", "FC")):
        command = (sys.executable, str(FIRMWARE / "measure.py"), "x", str(avr_build / part.elf), "262144", "8192", "3")
        done = subprocess.run((*command, *fuses), capture_output=True, text=True, check=False)
        assert done.returncode == 1
        assert "fuse bytes must be" in done.stderr


def test_the_build_refuses_what_does_not_fit(avr_build: Path) -> None:
    command = (sys.executable, str(FIRMWARE / "measure.py"), "x", str(avr_build / SMALL.elf))
    for sizes in (("4096", "2048"), ("32768", "1600")):
        done = subprocess.run((*command, *sizes, "2", "FF", "C1", "FC"), capture_output=True, text=True, check=False)
        assert done.returncode == 1
        assert "does not fit" in done.stderr


def test_the_core_includes_no_vendor_header_and_takes_no_heap() -> None:
    allowed = {"stdbool.h", "stdint.h", "string.h"}
    for path in sorted((FIRMWARE / "core").iterdir()):
        text = path.read_text(encoding="utf-8")
        assert set(re.findall(r"#include <([^>]+)>", text)) <= allowed, path
        assert not re.search(r"\b(malloc|calloc|realloc|free|alloca)\s*\(", text), path


@pytest.mark.thorough
def test_the_slower_line_speed_builds_and_talks(tmp_path: Path, avr_build: Path, harness: Path) -> None:
    assert avr_build.exists()
    compiled("make", "avr", f"OUT={tmp_path}", "BAUD=115200", cwd=FIRMWARE)
    bench = Bench(load(harness), tmp_path, SMALL, baud=115_200)
    bench.run(20)

    assert bench.ok("*IDN?").startswith("Stagecall,")
    bench.close()
