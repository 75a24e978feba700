"""Whether the verdicts that a log holds are those that judging it anew gives."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import msgspec

from stagecall.model.event import JUDGING, VerdictLine
from stagecall.report.words import VERDICT_WORDS


class Agreement(msgspec.Struct, frozen=True, kw_only=True):
    """Stored verdicts against those judged anew; ``differences`` are sentences."""

    stored: int
    anew: int
    rules_changed: tuple[int, int] | None = None
    """The judging version in the log and this program's, where they differ: a difference is then no disagreement."""
    differences: tuple[str, ...] = ()

    @property
    def agrees(self) -> bool | None:
        """None where there is nothing to compare: no stored verdict, or other rules."""
        if not self.stored or self.rules_changed:
            return None
        return not self.differences

    def sentences(self, most: int = 5) -> list[str]:
        """What there is to say, the differences first, at most so many of them."""
        said = list(self.differences[:most])
        if (more := len(self.differences) - most) > 0:
            said.append(f"and {more} more that differ")
        if self.rules_changed:
            then, now = self.rules_changed
            said.append(f"Rules changed: judged under version {then} when it was recorded, under version {now} now.")
        elif not self.stored:
            said.append("The log holds no verdicts; those shown were judged now.")
        elif self.differences:
            said.append("The stored verdicts DISAGREE with those judged anew.")
        else:
            said.append(f"The {self.stored} stored verdicts agree with those judged anew.")
        return said


def compare(stored: Sequence[VerdictLine], anew: Sequence[VerdictLine], *, judging: int, closed: bool) -> Agreement:
    """Compare verdicts one by one, evidence included; only the line's own number is passed over.

    ``judging``: the version in the log's header. ``closed``: the log was closed, so that every verdict must be stored;
    in one that breaks off the last ones are missing by nature.
    """
    differences = []
    if stored:
        olds, news = _by_name(stored), _by_name(anew)
        for key in dict.fromkeys((*news, *olds)):
            old, new = olds.get(key), news.get(key)
            if old is None and not closed:
                continue
            if old is None or new is None or msgspec.structs.replace(old, n=new.n) != new:
                of = " ".join(part for part in key[:2] if part) or "the run"
                differences.append(f"{of}: stored {_said(old)}, judged anew {_said(new)}{_beyond(old, new)}")
    return Agreement(
        stored=len(stored),
        anew=len(anew),
        rules_changed=(judging, JUDGING) if judging != JUDGING else None,
        differences=tuple(differences),
    )


def _by_name(lines: Sequence[VerdictLine]) -> dict[tuple[str, str, bool, int], VerdictLine]:
    """By name and id, and the how-manieth of that name: a sequence may occur twice."""
    times: Counter[tuple[str, str, bool]] = Counter()
    named = {}
    for line in lines:
        name = (line.of, line.id, line.monitor)
        named[*name, times[name]] = line
        times[name] += 1
    return named


def _said(line: VerdictLine | None) -> str:
    if line is None:
        return "nothing"
    reason = f" ({line.reason})" if line.reason else ""
    return f"{VERDICT_WORDS[line.verdict]}{reason}"


def _beyond(old: VerdictLine | None, new: VerdictLine | None) -> str:
    same = old is not None and new is not None and (old.verdict, old.reason) == (new.verdict, new.reason)
    return " on other evidence" if same else ""
