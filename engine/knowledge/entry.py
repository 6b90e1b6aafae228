"""What every entry of the knowledge base is made of: ids, short and long texts, numbers, and its place in a file."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field
from pydantic.json_schema import SkipJsonSchema

from ..reference.errors import Where

Id = Annotated[str, Field(pattern=r"^[a-z0-9]+(-[a-z0-9]+)*$", max_length=60)]
Line = Annotated[str, Field(min_length=1, max_length=300)]
Prose = Annotated[str, Field(min_length=1, max_length=4000)]
Number = Annotated[float, Field(allow_inf_nan=False)]
Minutes = Annotated[float, Field(gt=0, le=600, allow_inf_nan=False)]
Stage = Literal["look", "cold", "first power", "live", "play"]
STAGES: tuple[Stage, ...] = ("look", "cold", "first power", "live", "play")
POWERED: frozenset[Stage] = frozenset({"first power", "live", "play"})
Unit = Literal["V", "mV", "mA", "A", "ohm", "F", "H", "Hz", "W", "percent", "dB", "C", "minutes", "s", "count", "ratio"]
AmpValue = str | bool | float


class Strict(BaseModel):
    """Frozen, and strict about its keys: an unknown key is an error, not a silent extra. Models are built when first
    used: a start needs few of them by themselves."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class Entry(Strict):
    """What every entry carries: its id (the key it stands under) and where it stands."""

    id: SkipJsonSchema[str] = ""
    where: SkipJsonSchema[Where] = Field(default=Where("?"), repr=False)
    quiet: tuple[str, ...] = Field(
        default=(), description="Ids of lints that are switched off for this entry; say why in a comment beside it."
    )


class Cited(Entry):
    """An entry that can say what it rests on."""

    source: Id | tuple[Id, ...] | None = Field(
        default=None,
        description=(
            "What its figures rest on: an entry of kb/sources.yaml, or several. Left out where it rests on what its "
            "area rests on."
        ),
    )

    @property
    def sources(self) -> tuple[str, ...]:
        """Ids of its own sources."""
        return (self.source,) if isinstance(self.source, str) else self.source or ()
