"""The protocol's vectors, and how a dialogue of them is held with any board."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Protocol

import yaml

VECTORS: dict[str, Any] = yaml.safe_load(
    (Path(__file__).parents[2] / "hardware/protocol/vectors.yaml").read_text(encoding="utf-8")
)


def raw(line: str) -> bytes:
    """A line of the vectors as bytes."""
    return line.encode("latin-1")


class Partner(Protocol):
    """A board of 16 relays, 16 inputs and 4 analog inputs that has just started."""

    def ask(self, body: str) -> str: ...
    def run(self, ms: float) -> None: ...
    def set_input(self, which: int, *, live: bool) -> None: ...
    def closed(self) -> set[int]: ...
    def event_bodies(self) -> list[str]: ...


def matches(pattern: str, text: str, model: str) -> bool:
    """``{n}`` is any number, ``{model}`` the board's name, ``{version}`` any version."""
    known = {"{n}": r"\d+", "{model}": re.escape(model), "{version}": r"\d+\.\d+\.\d+"}
    parts = re.split(r"(\{n\}|\{model\}|\{version\})", pattern)
    return re.fullmatch("".join(known.get(part, re.escape(part)) for part in parts), text) is not None


def hold(dialogue: dict[str, Any], partner: Partner, model: str) -> None:
    """Go through a dialogue and assert what it says."""
    for number, step in enumerate(dialogue["steps"], 1):
        where = f"{dialogue['name']}, step {number}: {step}"
        if "send" in step:
            reply = partner.ask(step["send"])
            assert matches(step["reply"], reply, model), f"{where}: {reply}"
        elif "wait_ms" in step:
            partner.run(step["wait_ms"])
        elif "input" in step:
            partner.set_input(step["input"], live=step["live"])
        elif "closed" in step:
            assert partner.closed() == set(step["closed"]), f"{where}: {sorted(partner.closed())}"
        else:
            partner.run(5)
            events = partner.event_bodies()
            assert any(matches(step["event"], event, model) for event in events), f"{where}: {events}"
