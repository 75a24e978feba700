"""The judge: a pure function from the lines of a log to verdicts. It never sees a rig, a clock or a stored verdict."""

from stagecall.judge.judging import Judge, judge

__all__ = ["Judge", "judge"]
