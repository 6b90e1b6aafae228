"""Families of symptoms: their kinds must lead on, never back."""

from __future__ import annotations

from collections.abc import Iterator

from ...reference.errors import Problem
from .frame import Look, lint


@lint("error")
def family_in_a_circle(look: Look) -> Iterator[Problem]:
    """A family is among its own kinds, or among those of a family that is: whoever answers the questions that part them
    would be asked the first one again. Take it out of one of the two.
    """
    for symptom in look.base.symptoms.values():
        for key, kind in symptom.kinds.answers.items() if symptom.kinds else ():
            below = look.base.symptoms.get(kind.symptom)
            leads_back = kind.symptom == symptom.id or symptom.id in look.base.kinds.get(kind.symptom, ())
            if below is not None and leads_back:
                inside = ("kinds", "answers", key, "symptom")
                yield look.problem("symptoms", symptom, inside, f"'{kind.symptom}' leads back to '{symptom.id}'")
