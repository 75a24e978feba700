"""Builds of the firmware and of what the tests run it in, once for all workers; skipped where a compiler is missing."""

from __future__ import annotations

import fcntl
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import simulated_board
from builds import CORE, FIRMWARE, HERE, compiled, core_sources, found, includes, need
from native_core import Core
from native_core import load as load_core
from simulated_board import Bench, Part
from watched_link import WatchedLink


@pytest.fixture(autouse=True)
def watched() -> Iterator[None]:
    """No command on any watched line may break a rule."""
    WatchedLink.all.clear()
    yield
    assert [link.complaints for link in WatchedLink.all if link.complaints] == []


@pytest.fixture(scope="session")
def once(tmp_path_factory: pytest.TempPathFactory, worker_id: str) -> Callable[[str, Callable[[Path], None]], Path]:
    """A folder that the first worker to come fills, and the others find filled."""
    base = tmp_path_factory.getbasetemp()
    base = base if worker_id == "master" else base.parent

    def fill(name: str, make: Callable[[Path], None]) -> Path:
        folder = base / f"bench-{name}"
        with (base / f"bench-{name}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not (folder / "done").exists():
                folder.mkdir(exist_ok=True)
                make(folder)
                (folder / "done").touch()
        return folder

    return fill


@pytest.fixture(scope="session")
def avr_build(once: Callable[..., Path]) -> Path:
    """Both AVR firmwares and ``figures.txt``, what the build said of them."""
    need("the firmware", "gcc-avr binutils-avr avr-libc make", found("avr-gcc", "avr-objdump", "avr-objcopy", "make"))

    def make(folder: Path) -> None:
        said = compiled("make", "--no-print-directory", "avr", f"OUT={folder}", cwd=FIRMWARE)
        (folder / "figures.txt").write_text(said)

    return once("avr", make)


@pytest.fixture(scope="session")
def harness(once: Callable[..., Path]) -> Path:
    """The library that runs an AVR binary."""
    need(
        "the simulated board",
        "libsimavr-dev libelf-dev gcc",
        found("cc") and includes("sim_avr.h") and includes("libelf.h"),
    )

    def make(folder: Path) -> None:
        flags = ("-std=gnu11", "-Wall", "-Wextra", "-Werror", "-O2", "-shared", "-fPIC", "-I/usr/include/simavr")
        compiled("cc", *flags, str(HERE / "harness.c"), "-o", str(folder / "harness.so"), "-lsimavr", "-lelf", "-lm")

    return once("harness", make) / "harness.so"


@pytest.fixture
def board(harness: Path, avr_build: Path) -> Iterator[Callable[[Part], Bench]]:
    """Makes simulated boards that have just been powered on."""
    library = simulated_board.load(harness)
    made: list[Bench] = []

    def make(part: Part) -> Bench:
        made.append(Bench(library, avr_build, part))
        return made[-1]

    yield make
    for bench in made:
        bench.close()


@pytest.fixture(scope="session")
def core_build_possible() -> None:
    """Skips where the core cannot be built for this computer."""
    need("the core on this computer", "gcc make", found("cc", "make"))


@pytest.fixture(scope="session")
def _core_library(once: Callable[..., Path], core_build_possible: None) -> Path:  # noqa: ARG001 - skips

    def make(folder: Path) -> None:
        sources = (*core_sources(), str(HERE / "native.c"))
        compiled("cc", *CORE, "-O2", "-shared", "-fPIC", *sources, "-o", str(folder / "core.so"))

    return once("core", make) / "core.so"


@pytest.fixture
def core_from(_core_library: Path) -> Iterator[Callable[[int], Core]]:
    """Makes fresh cores in virtual time whose clocks begin at so many microseconds."""
    library, made = load_core(_core_library), []

    def make(start_us: int) -> Core:
        made.append(Core(library, start_us))
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def core(core_from: Callable[[int], Core]) -> Core:
    """The core in virtual time, fresh."""
    return core_from(0)


@pytest.fixture(scope="session")
def storm(once: Callable[..., Path], core_build_possible: None) -> Path:  # noqa: ARG001 - skips
    """The program that feeds lines to a sanitized core."""

    def make(folder: Path) -> None:
        sanitized = ("-g", "-O1", "-fsanitize=address,undefined", "-fno-sanitize-recover=all")
        compiled("cc", *CORE, *sanitized, *core_sources(), str(HERE / "storm.c"), "-o", str(folder / "storm"))

    return once("storm", make) / "storm"
