"""Families of symptoms: 'it hums' before anyone has asked when. Whatever shows a kind shows its family."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from . import model


def kinds_of(symptoms: Mapping[str, model.Symptom]) -> dict[str, tuple[str, ...]]:
    """By family, its kinds and those of the families among them; a family is not among its own."""
    return {id_: tuple(_below(symptoms, id_, {id_})) for id_, symptom in symptoms.items() if symptom.kinds}


def with_families(
    causes: Mapping[str, model.Cause], kinds: Mapping[str, tuple[str, ...]], often: Mapping[str, float]
) -> dict[str, model.Cause]:
    """The causes, each showing also the families of what it shows, as often as the kind that it shows most often."""
    return {id_: _shown(cause, kinds, often) for id_, cause in causes.items()}


def parting_check(symptom: model.Symptom) -> model.Check | None:
    """The check that asks which kind of a family it is; None for a symptom without kinds. An answer settles its own
    kind only, since there may be two; 'other' settles that it is none of them."""
    if symptom.kinds is None:
        return None
    answers = {
        key: model.AnswerOffered(text=kind.text, findings=(kind.symptom,))
        for key, kind in symptom.kinds.answers.items()
    }
    return model.Check(
        id=parting_id(symptom.id),
        where=symptom.where,
        name=f"Ask which kind: {symptom.name[0].lower()}{symptom.name[1:]}",
        stage="look",
        hands="none",
        minutes=1,
        do="Ask the player. More than one may be so: take the one that comes first.",
        normal="One of these, or none that is named here.",
        check_over=False,
        ask=symptom.kinds.ask,
        answers={**answers, "other": model.AnswerOffered(text="none of these", denies=symptom.kinds.symptoms)},
    )


def parting_id(family: str) -> str:
    """The id of the check that asks which kind of a family it is."""
    return f"which-{family}"[:60]


def _shown(cause: model.Cause, kinds: Mapping[str, tuple[str, ...]], often: Mapping[str, float]) -> model.Cause:
    shows = dict(cause.shows)
    for family, members in kinds.items():
        words = [cause.shows[kind] for kind in members if kind in cause.shows]
        if words and family not in shows:
            shows[family] = max(words, key=lambda word: often.get(word, 0.0))
    return cause.model_copy(update={"shows": shows}) if len(shows) > len(cause.shows) else cause


def _below(symptoms: Mapping[str, model.Symptom], family: str, seen: set[str]) -> Iterator[str]:
    kinds = symptoms[family].kinds if family in symptoms else None
    for kind in kinds.symptoms if kinds else ():
        if kind not in seen:
            seen.add(kind)
            yield kind
            yield from _below(symptoms, kind, seen)
