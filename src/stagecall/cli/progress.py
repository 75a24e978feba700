"""What is told on stderr while a run goes on: nothing, one passing line, or a line for all that happens."""

from __future__ import annotations

import sys
from contextlib import suppress

import click
import msgspec

from stagecall import units
from stagecall.model import plan
from stagecall.model.event import (
    AnyLine,
    Call,
    Document,
    Edge,
    Power,
    Question,
    Refusal,
    SequenceMark,
    StepMark,
    Switch,
    VerdictLine,
    Wait,
)
from stagecall.model.sequence import Condition
from stagecall.model.verdict import Reason
from stagecall.report.page import WIDEST_PROSE, Page, columns_of
from stagecall.report.record import planned
from stagecall.report.words import VERDICT_WORDS


class Progress:
    """Tells what must be told in any case: refusals, and questions that somebody is there to answer."""

    def __init__(self, *, attended: bool = False) -> None:
        self._attended = attended

    def show(self, line: AnyLine) -> None:
        """A line was written to the log."""
        if type(line) is Refusal:
            self.tell(f"CALL REFUSED: {line.because}")
        elif type(line) is Question and self._attended:
            self.tell(*line.text.splitlines(), "yes or no, and Enter")

    def tell(self, *sentences: str, indent: int = 0) -> None:
        """Sentences for the person, wrapped to the terminal."""
        self.done()
        page = Page(sys.stderr)
        for sentence in sentences:
            page.paragraph(sentence, indent=indent)
        self._echo(page.text())

    def alarm(self, text: str) -> None:
        """An order that fills the screen: nothing else is to be read now."""
        self.done()
        columns = min(columns_of(sys.stderr), WIDEST_PROSE)
        page = Page(sys.stderr)
        rule = "!" * (columns - 1)
        for sentence in (rule, *text.splitlines(), rule):
            page.paragraph(sentence, sentence, "bold red")
        wipe = "\x1b[2J\x1b[H" if sys.stderr.isatty() else ""
        self._echo(f"{wipe}\a{page.text()}")

    def _echo(self, text: str) -> None:
        with suppress(OSError):  # a terminal that has gone does not end a run
            click.echo(text, nl=False, err=True)

    def done(self) -> None:
        """Leave nothing half-written on the screen."""

    def finish(self) -> None:
        """The run is over, and its result comes next."""
        self.done()


class OneLine(Progress):
    """One line that says which sequence runs, and that is gone at the end."""

    def __init__(self, *, attended: bool = False) -> None:
        super().__init__(attended=attended)
        self._count = self._begun = self._shown = 0

    def show(self, line: AnyLine) -> None:
        """A line was written to the log."""
        super().show(line)
        if type(line) is Document and line.kind == "sequence":
            sequence = msgspec.json.decode(line.typed, type=plan.Sequence)
            self._count += not (sequence.not_applicable or sequence.deferred)
        elif type(line) is SequenceMark and line.phase == "begin":
            self._begun += 1
            self._write(f"{self._begun} of {self._count}: {line.name}")

    def _write(self, text: str) -> None:
        text = text[: columns_of(sys.stderr) - 1]
        self._echo("\r" + text.ljust(self._shown))
        self._shown = len(text)

    def done(self) -> None:
        """Wipe the line."""
        if self._shown:
            self._write("")
            self._echo("\r")


class Everything(Progress):
    """A line for each step with its reason, and for all that happens in it. ``because``: whether reasons are told."""

    def __init__(self, *, attended: bool = False, because: bool = True) -> None:
        super().__init__(attended=attended)
        self._because = because
        self._sequences: dict[str, plan.Sequence] = {}
        self._texts: dict[tuple[str, str], str] = {}
        self._from = 0

    def show(self, line: AnyLine) -> None:
        """A line was written to the log."""
        super().show(line)
        match line:
            case Document(kind="sequence"):
                self._sequences[line.name] = msgspec.json.decode(line.typed, type=plan.Sequence)
                if (asks := planned(line)) is not None:
                    self._texts |= {(line.name, name): asked.text for name, asked in asks.asked.items()}
            case SequenceMark(phase="begin"):
                self.tell(f"{line.name}: {self._sequences[line.name].title}")
            case StepMark(phase="begin"):
                self._step(line)
            case Wait():
                self.tell(f"waits {units.show_time(line.until - line.t)}: {line.because}", indent=2)
            case VerdictLine(monitor=False) if line.of and line.id and line.reason is not Reason.CUT_SHORT:
                self._verdict(line)
            case _:
                if (what := happened(line)) is not None:
                    self.tell(f"{units.show_time(line.t - self._from)}  {what}", indent=4)

    def _step(self, line: StepMark) -> None:
        self._from = line.t
        step = next(step for step in self._sequences[line.sequence].steps if step.slug == line.step)
        calls = f"calls {', '.join(step.calls)}" if step.calls else "no calls"
        self.tell(f"{step.title} ({calls})", indent=2)
        if step.because and self._because:
            self.tell(f"because: {step.because}", indent=4)

    def _verdict(self, line: VerdictLine) -> None:
        text = self._texts.get((line.of, line.id), line.id)
        self.tell(f"{VERDICT_WORDS[line.verdict]}  {text}" + (f" ({line.detail})" if line.detail else ""), indent=4)

    def finish(self) -> None:
        """An empty line before the result."""
        self._echo("\n")


def happened(line: AnyLine) -> str | None:
    """An event in words; None where the line is none."""
    match line:
        case Edge():
            return str(Condition(line.point, line.state))
        case Call():
            return f"call {line.terminal} {line.state}"
        case Power():
            return f"power {line.state}"
        case Switch():
            name = line.name.replace("_", " ")
            return f"{name} opened on purpose" if line.state == "open" else f"{name} restored"
    return None
