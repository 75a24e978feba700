"""What sequences warn of, said before they run."""

from __future__ import annotations

from stagecall.run.prepare import Prepared


def cautions(prepared: Prepared) -> str:
    """On the model: a line for each caution of the sequences that will run, its first sentence, as nobody is there."""
    found: dict[str, None] = {}
    for sequence in prepared.sequences:
        if sequence.caution and not (sequence.not_applicable or sequence.deferred):
            found[sequence.caution.partition(". ")[0].rstrip(".") + "."] = None
    return "\n".join(f"CAUTION: {caution}" for caution in found)
