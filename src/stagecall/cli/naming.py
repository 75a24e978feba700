"""The name of a run, which is its log's too, and the log's first line."""

from __future__ import annotations

import secrets
from pathlib import Path

import stagecall as package
from stagecall.model.event import Header
from stagecall.rigs.clock import Clock
from stagecall.rigs.guard import Guarded
from stagecall.run.prepare import Prepared


def run_id(clock: Clock, token: str | None = None) -> str:
    """``20260102-030405-3f2a``: the time of day it began, and a *token* (None: drawn) that tells two apart."""
    return f"{clock.wall():%Y%m%d-%H%M%S}-{token or secrets.token_hex(2)}"


def log_path(asked: str | None, run: str) -> Path:
    """Where the log goes."""
    return Path(asked or f"{run}.run.jsonl")


def header_of(  # noqa: PLR0913 - each is a thing of its own
    prepared: Prepared, rig: Guarded, clock: Clock, run: str, seed: int | None, *, drawn: bool, follows: str
) -> Header:
    """The first line of a run's log."""
    return Header(
        tool=package.__version__,
        run=run,
        start=clock.wall().isoformat(timespec="seconds"),
        tested_on=rig.tested_on,
        rig=rig.name,
        system=prepared.system.system,
        kit=prepared.kit.kit,
        source=rig.bounds,
        seed=seed,
        drawn=drawn,
        faults=prepared.fault_names,
        follows=follows,
        dry_run=rig.premises.here.dry_run.run if rig.premises.here.dry_run else "",
    )
