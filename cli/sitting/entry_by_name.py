"""Finding an entry by what a person calls it."""

from __future__ import annotations

from collections.abc import Mapping

from ...engine.late import late

with late():
    from rapidfuzz import fuzz, process


def named(wanted: str, names: Mapping[str, str]) -> tuple[str, ...]:
    """The ids that are meant by an id, a whole name, or words that are all in the name or id; best first."""
    folded = " ".join(wanted.lower().split())
    if folded in names:
        return (folded,)
    whole = [id_ for id_, name in names.items() if name.lower() == folded]
    if whole:
        return tuple(whole)
    words = folded.replace("-", " ").split()
    texts = {id_: f"{id_.replace('-', ' ')} {name}".lower() for id_, name in names.items()}
    has = [id_ for id_, text in texts.items() if all(word in text for word in words)]
    if has or len(folded) < 4:
        return tuple(has)

    near = process.extract(folded, dict(names), scorer=fuzz.token_set_ratio, score_cutoff=75, limit=5)
    return tuple(str(id_) for _, _, id_ in near)
