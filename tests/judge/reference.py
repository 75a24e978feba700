"""A slow and obvious judge of whole logs, to check the real one against.

It keeps nothing while it reads. For every beginning of the log in turn it looks at all of the lines so far and asks
"is it certain now?"; the first answer stands. The order of overlapping edges is found by trying every order that the
intervals allow. It knows no roll-up and no evidence, only what becomes of each expectation.
"""

from __future__ import annotations

import msgspec
from reference_counted import ask, order, reads, times
from reference_log import FAIL, LOST, UNSEEN, Log, Says, Scope, anchor_of, combined
from reference_watched import never, stays, turns

from stagecall.model import event, plan
from stagecall.model.sequence import Anchor


def _points(form: plan.Form) -> list[str]:
    match form:
        case plan.Turns(turns=want) | plan.Stays(stays=want):
            anchor = form.each or form.since
            until = (form.until.point,) if isinstance(form, plan.Stays) and form.until is not None else ()
            return [want.point, *until, *((anchor.name,) if anchor.kind == "point" else ())]
        case plan.Order():
            return [element.point for element in form.order]
        case plan.Reads():
            return [form.reads]
        case plan.Times():
            return [form.times.point]
    return []


def expectation(scope: Scope, form: plan.Form) -> Says:  # noqa: PLR0911 - one form a line
    """What becomes of one expectation."""
    log = scope.log
    if any(name not in log.bounds for name in _points(form)):
        return UNSEEN
    match form:
        case plan.Turns(each=Anchor()) | plan.Stays(each=Anchor()):
            one = turns if isinstance(form, plan.Turns) else stays
            each = form.each
            assert each is not None
            answers: list[Says] = []
            for trigger in log.edges(each.kind, each.name, each.state, scope.first, scope.last + 1):
                answer = softened(scope, form, one(scope, form, trigger, trigger.n))  # type: ignore[arg-type]
                if not (scope.monitor and answer is LOST):
                    answers.append(answer)
            return combined(scope, answers)
        case plan.Turns():
            return softened(scope, form, turns(scope, form, anchor_of(scope, form.since), scope.first))
        case plan.Stays():
            return stays(scope, form, anchor_of(scope, form.since), scope.first)
        case plan.Never():
            return never(scope, form)
        case plan.Order():
            return order(scope, form)
        case plan.Times():
            return times(scope, form)
        case plan.Reads():
            return reads(scope, form)
        case plan.Ask():
            return ask(scope, form)


def softened(scope: Scope, form: plan.Turns | plan.Stays, answer: Says) -> Says:
    """A fail is none where what would excuse it cannot be seen at all."""
    return UNSEEN if answer == FAIL and any(c.point not in scope.log.bounds for c in form.unless) else answer


def reference(lines: list[event.AnyLine], *, closed: bool) -> dict[str, Says]:
    """What becomes of every expectation of every step that was begun, and of every monitor's, by id."""
    log = Log(lines, closed)
    found: dict[str, Says] = {}
    plans: dict[str, plan.Sequence] = {}
    monitors: list[plan.Monitor] = []
    sequence = 0
    for n, line in enumerate(lines):
        match line:
            case event.Header(source=source):
                log.bounds = source.points
            case event.Document(kind="sequence"):
                decoded = msgspec.json.decode(line.typed, type=plan.Sequence)
                plans[decoded.name] = decoded
            case event.Document(kind="monitor"):
                monitors.append(msgspec.json.decode(line.typed, type=plan.Monitor))
            case event.SequenceMark(phase="begin"):
                sequence = n
            case event.StepMark(phase="begin"):
                step = next(step for step in plans[line.sequence].steps if step.slug == line.step)
                ends = (
                    i for i in range(n, len(lines)) if isinstance(lines[i], event.StepMark) and lines[i].phase == "end"
                )
                end = next(ends, None)
                cut = end is None or bool(lines[end].cut_short)
                scope = Scope(log, n, len(lines) - 1 if end is None else end, cut, sequence=sequence)
                found |= {form.id: expectation(scope, form) for form in step.expect}
    for monitor in monitors:
        scope = Scope(log, 0, len(lines) - 1, not closed, monitor=True)
        found |= {form.id: expectation(scope, form) for form in monitor.expect}
    return found
