"""How much the sequences catch: figures computed from the results of many runs, and from nothing else.

Only a fail counts as caught. A fault is detectable with a kit where its trace left the envelope of healthy machines in
some sequence; it is detected where one of those that it left failed as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Literal

import msgspec

from stagecall.run.catalogue import CONDUCTOR, Entry
from stagecall.run.results import Healthy, Tried
from stagecall.run.trace import STEPS

Outcome = Literal["no response", "caught", "false alarm", "missed", "caught as something else"]
OUTCOMES: tuple[Outcome, ...] = ("no response", "caught", "false alarm", "missed", "caught as something else")
FEW = 3
"""So many candidates a person can still look at one by one."""


def outcome(tried: Tried) -> Outcome:
    """What one fault came to in one sequence.

    No response: the trace stayed among healthy ones and nothing failed; a false alarm: something failed all the same.
    Missed: the trace left them and nothing failed. Caught: something failed that is about a point whose trace left them
    (or about the course of the sequence); caught as something else: what failed is about other points.
    """
    if not tried.left:
        return "false alarm" if tried.failures else "no response"
    if not tried.failures:
        return "missed"
    about = {point for failure in tried.failures for point in failure.points}
    return "caught" if STEPS in tried.left or about & set(tried.left) else "caught as something else"


class Rate(msgspec.Struct):
    """Of ``detectable`` faults so many were ``detected``."""

    detectable: int = 0
    detected: int = 0

    @property
    def share(self) -> float | None:
        """0 to 1; None where there was nothing to detect."""
        return self.detected / self.detectable if self.detectable else None

    def count(self, *, detected: bool) -> None:
        """One more detectable fault."""
        self.detectable += 1
        self.detected += detected


class Unfound(msgspec.Struct, frozen=True):
    """A fault that nothing caught, and why."""

    fault: str
    system: str
    reason: str
    detectable: bool


class Case(msgspec.Struct):
    """One fault on one system with one kit, over all sequences."""

    system: str
    kit: str
    entry: Entry
    tried: list[Tried] = []

    @property
    def detectable(self) -> bool:
        """Its trace left the healthy ones somewhere."""
        return any(one.left for one in self.tried)

    @property
    def detected(self) -> bool:
        """It did so where something failed."""
        return any(one.left and one.failures for one in self.tried)

    @property
    def catchers(self) -> tuple[str, ...]:
        """The sequences and monitors that failed, sorted."""
        return tuple(sorted({failure.of for one in self.tried for failure in one.failures}))

    @property
    def sequences(self) -> tuple[str, ...]:
        """The sequences in whose run something failed, a monitor or the sequence itself."""
        return tuple(one.sequence for one in self.tried if one.failures)

    @property
    def look(self) -> frozenset[str]:
        """What fails: faults with the same look cannot be told apart."""
        return frozenset(f"{one.sequence}: {failure}" for one in self.tried for failure in one.failures)

    @property
    def reason(self) -> str:
        """Why nothing caught it."""
        left = [one for one in self.tried if one.left]
        if not left:
            broken = next((one.broken for one in self.tried if one.broken), "")
            return (
                f"it could not be run: {broken}"
                if broken
                else "nothing that the kit sees differs from a healthy machine"
            )
        shows = "; ".join(f"{one.sequence} ({', '.join(said(point) for point in one.left)})" for one in left[:FEW])
        own = (text for one in left for text in one.not_verified if text.startswith(f"{one.sequence}/"))
        unjudged = next(own, "")
        return f"it shows in {shows}, where nothing fails" + (f"; not verified there: {unjudged}" if unjudged else "")


def said(point: str) -> str:
    """A point in words."""
    return point.replace("_", " ") or "the course of the steps"


class KitFigures(msgspec.Struct, kw_only=True):
    """All that is said of one kit."""

    faults: int
    detectable: int
    detected: int
    detection_rate: float | None
    """Every fault at every place counts once."""
    part_detection_rate: float | None
    """The same without faults of conductors."""
    unweighted_detection_rate: float | None
    """Every entry of the catalogue counts once, at however many places it was tried."""
    by_fault: dict[str, Rate]
    by_part: dict[str, Rate]
    outcomes: dict[str, int]
    undetected: list[Unfound]
    isolated_to_1: float | None
    isolated_to_3: float | None
    """Shares of the detected faults that are told apart from all others of their system, or all but two."""
    alike: list[tuple[str, tuple[str, ...]]]
    """System, and faults on it that look the same."""
    alone: dict[str, int]
    """For each sequence, how many faults nothing else catches."""
    caught_by: dict[str, int]
    """For each sequence and monitor, how many faults it catches."""


class Cover(msgspec.Struct, kw_only=True):
    """The whole answer."""

    runs: int
    """All of them, healthy ones among them."""
    seconds: float
    kits: dict[str, KitFigures]
    healthy_runs: int
    false_alarms: int
    """Healthy runs in which something failed."""
    not_verified_healthy: int
    """Healthy runs that left something unverified."""
    alarms: list[str]
    """Each expectation that failed on a healthy machine."""
    unverified: dict[str, dict[str, int]]
    """For each kit, what healthy machines left unverified, and on how many systems."""
    cases: list[Case]


def cover(
    healthy: Iterable[Healthy], tried: Iterable[Tried], faults: Mapping[str, Iterable[Entry]], seconds: float = 0.0
) -> Cover:
    """Compute everything from results. *faults*: the catalogue of each system."""
    entries = {(system, entry.text): entry for system, those in faults.items() for entry in those}
    cases: dict[tuple[str, str, str], Case] = {}
    for one in sorted(tried, key=lambda one: one.sequence):
        key = one.kit, one.system, one.fault
        if key not in cases:
            cases[key] = Case(one.system, one.kit, entries[one.system, one.fault])
        cases[key].tried.append(one)
    draws = list(healthy)
    ordered = [cases[key] for key in sorted(cases)]
    kits = sorted({case.kit for case in ordered} | {one.kit for one in draws})
    sequences = {kit: sorted({one.sequence for one in draws if one.kit == kit}) for kit in kits}
    alarms = [f"{one.system}, {one.kit}, {one.sequence}, {text}" for one in draws for text in one.alarms]
    return Cover(
        runs=sum(len(case.tried) for case in ordered) + sum(len(one.seeds) for one in draws),
        seconds=seconds,
        kits={kit: _figures([case for case in ordered if case.kit == kit], sequences[kit]) for kit in kits},
        healthy_runs=sum(len(one.seeds) for one in draws),
        false_alarms=len({text.partition(":")[0] for text in alarms}),
        not_verified_healthy=sum(one.not_verified for one in draws),
        alarms=alarms,
        unverified={kit: _unverified([one for one in draws if one.kit == kit]) for kit in kits},
        cases=ordered,
    )


def _unverified(draws: list[Healthy]) -> dict[str, int]:
    left = {(text, one.system) for one in draws for text in one.unverified}
    return dict(sorted(Counter(text for text, _ in left).items()))


def _figures(cases: list[Case], sequences: list[str]) -> KitFigures:
    whole, parts = Rate(), Rate()
    by_fault: dict[str, Rate] = {}
    by_part: dict[str, Rate] = {}
    for case in cases:
        if case.detectable:
            rates = [whole, by_fault.setdefault(case.entry.name, Rate()), by_part.setdefault(case.entry.part, Rate())]
            if case.entry.part != CONDUCTOR:
                rates.append(parts)
            for rate in rates:
                rate.count(detected=case.detected)
    groups = _groups(cases)
    sizes = [len(group) for _, group in groups for _ in group]
    shares = [rate.share for rate in by_fault.values() if rate.share is not None]
    alone = Counter(case.sequences[0] for case in cases if case.detected and len(case.sequences) == 1)
    return KitFigures(
        faults=len(cases),
        detectable=whole.detectable,
        detected=whole.detected,
        detection_rate=whole.share,
        part_detection_rate=parts.share,
        unweighted_detection_rate=_mean(shares),
        by_fault=dict(sorted(by_fault.items())),
        by_part=dict(sorted(by_part.items())),
        outcomes=_outcomes(cases),
        undetected=[
            Unfound(case.entry.text, case.system, case.reason, case.detectable) for case in cases if not case.detected
        ],
        isolated_to_1=_mean([size == 1 for size in sizes]),
        isolated_to_3=_mean([size <= FEW for size in sizes]),
        alike=[(system, tuple(group)) for system, group in groups if len(group) > 1],
        alone={name: alone[name] for name in sequences},
        caught_by=dict(sorted(Counter(name for case in cases for name in case.catchers).items())),
    )


def _groups(cases: list[Case]) -> list[tuple[str, list[str]]]:
    """Detected faults of one system that look the same."""
    groups: dict[tuple[str, frozenset[str]], list[str]] = {}
    for case in cases:
        if case.detected:
            groups.setdefault((case.system, case.look), []).append(case.entry.text)
    return [(system, group) for (system, _), group in groups.items()]


def _outcomes(cases: list[Case]) -> dict[str, int]:
    counted = Counter(outcome(one) for case in cases for one in case.tried if not one.broken)
    return {name: counted[name] for name in OUTCOMES}


def _mean(values: list[float] | list[bool]) -> float | None:
    return sum(values) / len(values) if values else None
