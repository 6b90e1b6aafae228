"""What a healthy amp shows at a check."""

from __future__ import annotations

from collections.abc import Iterable

from ..knowledge import model
from ..knowledge.base import KnowledgeBase
from .log import CANT_TELL


def nothing_wrong(base: KnowledgeBase, check: model.Check) -> str | dict[str, float]:
    """The answer that tells of no fault, or readings of which none does; CANT_TELL where a check has neither, or
    works something out from them. Of several, the first in the file."""
    if check.answers:
        good = [key for key, answer in check.answers.items() if _no_fault(base, answer.findings)]
        return next((key for key in good if not check.answers[key].findings), good[0] if good else CANT_TELL)
    if check.figures:
        return CANT_TELL  # what is worked out from several readings is the amp's own
    values = {name: sum(reading.plausible) / 2 for name, reading in check.readings.items()}
    judged: set[str] = set()
    for band in check.bands:
        name = band.of or next(iter(check.readings))
        if name in judged or not _no_fault(base, band.findings):
            continue
        judged.add(name)
        low = band.above if isinstance(band.above, float) else check.readings[name].plausible[0]
        high = band.below if isinstance(band.below, float) else check.readings[name].plausible[1]
        values[name] = (low + high) / 2
    return values


def _no_fault(base: KnowledgeBase, findings: Iterable[str]) -> bool:
    """Whether no cause is behind any of these findings."""
    return not any(
        base.causes_showing.get(id_) or (id_ in base.findings and base.findings[id_].bars) for id_ in findings
    )
