"""Verdicts and why they are what they are."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum


class Verdict(StrEnum):
    """What is said of an instance, an expectation, a sequence, a run."""

    PASS = "pass"  # noqa: S105 - a verdict, not a password
    EXCEPTED = "excepted"
    NOT_VERIFIED = "not_verified"
    FAIL = "fail"
    NOT_APPLICABLE = "not_applicable"


class Reason(StrEnum):
    """Why something is not verified."""

    NEVER_CAME_UP = "never came up"
    TOO_CLOSE = "too close to call"
    NOT_OBSERVED = "not observed"
    CUT_SHORT = "cut short"
    ALREADY_SO = "already so"
    DEFERRED = "deferred"


_SEVERITY = {Verdict.PASS: 0, Verdict.EXCEPTED: 1, Verdict.NOT_VERIFIED: 2, Verdict.FAIL: 3}


def roll_up(verdicts: Iterable[Verdict]) -> Verdict:
    """The worst of ``pass < excepted < not_verified < fail``; of nothing: not verified.

    Not applicable ones are passed over.
    """
    worst: Verdict | None = None
    for verdict in verdicts:
        if verdict is Verdict.NOT_APPLICABLE:
            continue
        if worst is None or _SEVERITY[verdict] > _SEVERITY[worst]:
            worst = verdict
    return Verdict.NOT_VERIFIED if worst is None else worst
