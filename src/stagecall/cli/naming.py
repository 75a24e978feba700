"""The name of a run, which is its log's too."""

from __future__ import annotations

import secrets
from pathlib import Path

from stagecall.rigs.clock import Clock


def run_id(clock: Clock, token: str | None = None) -> str:
    """``20260102-030405-3f2a``: the time of day it began, and a *token* (None: drawn) that tells two apart."""
    return f"{clock.wall():%Y%m%d-%H%M%S}-{token or secrets.token_hex(2)}"


def log_path(asked: str | None, run: str) -> Path:
    """Where the log goes."""
    return Path(asked or f"{run}.run.jsonl")
