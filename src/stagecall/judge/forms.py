"""The one table: each form of expectation and the class that judges it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from stagecall.judge.ask import Ask
from stagecall.judge.never import Never
from stagecall.judge.order import Order
from stagecall.judge.reads import Reads
from stagecall.judge.stays import Stays
from stagecall.judge.times import Times
from stagecall.judge.turns import Turns
from stagecall.judge.watch import Context, Watch
from stagecall.model import plan

FORMS: dict[type[plan.Form], Callable[[Any, Context], Watch]] = {
    plan.Turns: Turns,
    plan.Stays: Stays,
    plan.Order: Order,
    plan.Never: Never,
    plan.Reads: Reads,
    plan.Times: Times,
    plan.Ask: Ask,
}


def watch(form: plan.Form, context: Context) -> Watch:
    """What judges *form*."""
    return FORMS[type(form)](form, context)
