"""``ask``: a question only a person can answer."""

from __future__ import annotations

from stagecall.judge.watch import NEVER, Context, Outcome, Watch, unverified
from stagecall.model import plan
from stagecall.model.verdict import Reason, Verdict


class Ask(Watch):
    """Waits for yes or no."""

    def __init__(self, form: plan.Ask, context: Context) -> None:
        super().__init__(form, context)

    def answer(self, value: str, n: int) -> None:
        if value == "yes":
            self.outcome = Outcome(Verdict.PASS, detail="answered yes", lines=(n,))
        elif value == "no":
            self.outcome = Outcome(Verdict.FAIL, detail="answered no", lines=(n,))

    def end(self, s: int, n: int, cut: str) -> None:
        self.outcome = unverified(Reason.CUT_SHORT, cut or "not answered", lines=(n,))

    def idle_until(self) -> float:
        return NEVER

    def open(self) -> bool:
        return True
