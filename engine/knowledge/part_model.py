"""What the knowledge base says of a kind of part: its names, how it fails, what stands in for it, and where circuits
have it."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from .entry import Entry, Id, Line, Strict, Unit

Percent = Annotated[float, Field(ge=0, le=1000, allow_inf_nan=False)]
Size = Annotated[float, Field(gt=0, allow_inf_nan=False)]
Words = Annotated[
    tuple[Line, ...],
    BeforeValidator(lambda value: [value] if isinstance(value, str) else value),
    WithJsonSchema({"anyOf": [{"type": "string"}, {"type": "array", "items": {"type": "string"}}]}),
]


class OtherValue(Strict):
    """Which other value will do: the nearest of a standard series, or those of the stock that are near enough."""

    unit: Unit
    series: str | None = Field(default=None, description="A series of IEC 60063, as in E24; or else give `stock`.")
    stock: tuple[Size, ...] = Field(default=(), description="The values that are sold, in the unit.")
    below: Percent = Field(description="By how many percent it may lie below the value asked for.")
    above: Percent = Field(description="And above.")
    because: Line = Field(description="Why, with {off}, {series}, {below} and {above} where the figures belong.")

    @model_validator(mode="after")
    def _one(self) -> Self:
        if (self.series is None) == (not self.stock):
            raise ValueError("give either 'series' or 'stock'")
        return self


class HigherRating(Strict):
    """Ratings above the one asked for, of those that are sold."""

    unit: Unit
    stock: tuple[Size, ...] = Field(min_length=1, description="The ratings that are sold, in the unit.")
    because: Line = Field(description="Why, with {asked} where the rating asked for belongs.")


class StandIn(Strict):
    """What may stand in for a part, and what must be kept."""

    never: Line | None = Field(default=None, description="Why nothing may stand in for it, in a sentence.")
    keep: Line | None = Field(default=None, description="What must be kept, whatever stands in.")
    value: OtherValue | None = None
    rating: HigherRating | None = None
    family: Line | None = Field(
        default=None, description="For tubes: why another type of the family will do, with {type} for the one asked."
    )

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.never and (self.keep or self.value or self.rating or self.family):
            raise ValueError("where nothing stands in, there is nothing else to say")
        return self


class PartKind(Entry):
    """One kind of part."""

    name: Line = Field(description="What the trade calls one of them.")
    also: tuple[Line, ...] = Field(default=(), description="Other names; a plural s need not be told.")
    kind_of: Id | None = Field(
        default=None, description="The kind it belongs to, whose faults, stand-ins and price are its own too."
    )
    faults: dict[Line, tuple[Line, ...]] = Field(
        default_factory=dict, description="How it fails, each fault with the other words for it."
    )
    roles: tuple[Line, ...] = Field(
        default=(), description="What circuit files call it; `*` stands for any letters. Its kinds are meant with it."
    )
    marks: tuple[Line, ...] = Field(
        default=(), description="Markings that, in the rating asked for, make any part this one, as X2 does."
    )
    fitted: Id | None = Field(default=None, description="The amp fact that says which type is fitted.")
    stand_in: StandIn | None = None
