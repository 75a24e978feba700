"""What sequences warn of, said before they run."""

from __future__ import annotations

from stagecall.run.prepare import Prepared


def cautions(prepared: Prepared, *, on_the_model: bool) -> str:
    """A line for each caution of the sequences that will run; on the model only its first sentence: nobody is there."""
    found: dict[str, None] = {}
    for sequence in prepared.sequences:
        if sequence.caution and not (sequence.not_applicable or sequence.deferred):
            found[sequence.caution.partition(". ")[0].rstrip(".") + "." if on_the_model else sequence.caution] = None
    return "\n".join(f"CAUTION: {caution}" for caution in found)
