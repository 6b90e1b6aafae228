"""What the program tells, as frozen models: their dump is its JSON; a screen, a paper or a page only lays them out.

A report stands beside what it tells of; what is gathered from several rooms is in engine/reports. A report only ever
grows: fields may be added, none is renamed, removed or given another meaning. Probabilities run from 0 to 1, minutes
are bench minutes, and numbers are in the unit named beside them. Ids are those of the knowledge base.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, PlainSerializer


class Report(BaseModel):
    model_config = ConfigDict(
        extra="forbid", frozen=True, from_attributes=True, defer_build=True  # most are never wanted in one run
    )  # fmt: skip

    @classmethod
    def made_of(cls, told: object, **more: object) -> Self:
        """The report of a value: what it has under the report's own names, and `more` beside it or in its place."""
        own = {name: getattr(told, name) for name in cls.model_fields if name not in more and hasattr(told, name)}
        return cls.model_validate({**own, **more})


def _unsaid(value: object) -> object:
    return None if value == "" else value


def _iso(value: date | None) -> str:
    return "" if value is None else value.isoformat()


# In JSON they are ISO 8601, '' when not known.
Day = Annotated[date | None, BeforeValidator(_unsaid), PlainSerializer(_iso, when_used="json")]
Moment = Annotated[datetime, PlainSerializer(_iso, when_used="json")]
MomentIfKnown = Annotated[datetime | None, BeforeValidator(_unsaid), PlainSerializer(_iso, when_used="json")]
