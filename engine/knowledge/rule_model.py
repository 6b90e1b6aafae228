"""What a rule can say: its condition, what it concludes, and the examples it is tried on."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import Field, model_validator

from .entry import AmpValue, Cited, Id, Line, Number, Strict

MOST_OF = 24  # conditions that one condition may combine
_QUANTITY = r"^[a-z0-9-]+/[a-z0-9-]+$"


class Other(Strict):
    """Another reading or figure that a value is compared with: times it, and plus a number in its unit."""

    value: str = Field(pattern=_QUANTITY)
    times: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)] = 1
    plus: Number = 0


class Condition(Strict):
    """A condition of a rule. Each form stands alone; 'any', 'all', 'not' and 'of' combine them.

    {finding: ID}                   the finding or symptom is true
    {denied: ID}                    it was answered no
    {unknown: ID}                   nothing is known of it yet
    {complaint: SYMPTOM}            the player complains of it
    {answer: CHECK, is: KEY}        the check was answered so (a list of keys: any one)
    {amp: {FACT: VALUE}}            amp facts, all of which hold (a list of values: any one)
    {value: CHECK/NAME, above: N, below: N}   a reading or figure lies there; for N also {value: CHECK/NAME,
                                    times: N, plus: N}, another reading or figure
    {since: WHAT, above: N, below: N}   minutes from an entry to the latest one of the job; WHAT is opened, or
                                    check/ID, repair/ID, hold/ID or complaint/ID (the latest of that kind)
    {spoken: RULE}                  another rule has spoken
    {at_least: N, of: [...]}        at least N of these conditions hold
    {at_most: N, of: [...]}         all but N of these conditions are known not to hold
    """

    finding: Id | None = None
    denied: Id | None = None
    unknown: Id | None = None
    complaint: Id | None = None
    answer: Id | None = None
    is_: Line | tuple[Line, ...] | None = Field(default=None, alias="is")
    amp: dict[Id, AmpValue | tuple[AmpValue, ...]] | None = Field(default=None, min_length=1)
    value: str | None = Field(default=None, pattern=_QUANTITY)
    since: str | None = Field(default=None, pattern=r"^(opened|(check|repair|hold|complaint)/[a-z0-9-]+)$")
    above: Number | Other | None = None
    below: Number | Other | None = None
    spoken: Id | None = None
    at_least: int | None = Field(default=None, ge=1, le=MOST_OF)
    at_most: int | None = Field(default=None, ge=0, le=MOST_OF)
    of: tuple[Condition, ...] | None = Field(default=None, min_length=1, max_length=MOST_OF)
    all: tuple[Condition, ...] | None = Field(default=None, min_length=1, max_length=MOST_OF)
    any: tuple[Condition, ...] | None = Field(default=None, min_length=1, max_length=MOST_OF)
    negated: Condition | None = Field(default=None, alias="not")

    @model_validator(mode="after")
    def _one_form(self) -> Condition:
        given = [form for form in _FORMS if getattr(self, "negated" if form == "not" else form) is not None]
        if len(given) != 1:
            raise ValueError(f"one form per condition: {', '.join(_FORMS[:-1])} or not")
        form = given[0]
        if (self.answer is None) != (self.is_ is None):
            raise ValueError("'is' goes with 'answer', and only with it")
        if (self.of is None) == (form in ("at_least", "at_most")):
            raise ValueError("'of' goes with at_least and at_most, and only with them")
        if self.of is not None and (self.at_least or (self.at_most or 0) + 1) > len(self.of):
            raise ValueError(f"counts past the {len(self.of)} conditions there are: it would always, or never, hold")
        if form in ("value", "since") and self.above is None and self.below is None:
            raise ValueError(f"a condition on '{form}' needs 'above', 'below' or both")
        if form not in ("value", "since") and (self.above is not None or self.below is not None):
            raise ValueError("'above' and 'below' go with 'value' and 'since'")
        if self.since is not None and (isinstance(self.above, Other) or isinstance(self.below, Other)):
            raise ValueError("'since' is compared with numbers of minutes")
        if isinstance(self.above, float) and isinstance(self.below, float) and self.above >= self.below:
            raise ValueError(f"the range is upside down: above {self.above:g} and below {self.below:g}")
        return self

    def parts(self) -> tuple[Condition, ...]:
        """The conditions this one combines; none for a plain one."""
        inner = (*(self.all or ()), *(self.any or ()), *(self.of or ()))
        return (*inner, self.negated) if self.negated is not None else inner

    def leaves(self) -> Iterator[Condition]:
        """Every plain condition in it."""
        inner = self.parts()
        if not inner:
            yield self
        for part in inner:
            yield from part.leaves()


_FORMS = (
    "finding", "denied", "unknown", "complaint", "answer", "amp", "value", "since", "spoken", "at_least", "at_most",
    "all", "any", "not",
)  # fmt: skip


class Conclusion(Strict):
    """What a rule concludes; one form each."""

    conclude: Id | None = Field(default=None, description="A finding that is true.")
    raises: Id | None = Field(default=None, alias="raise", description="A cause whose odds go up.")
    lowers: Id | None = Field(default=None, alias="lower", description="A cause whose odds go down.")
    by: str | None = Field(default=None, description="With raise and lower: slightly, clearly or strongly.")
    rule_out: Id | None = Field(default=None, description="A cause that can't be.")
    check_first: Id | None = Field(default=None, description="A check that goes to the front of its stage of work.")
    skip: Id | None = Field(default=None, description="A check that is not offered; never one that bears on safety.")
    hold: Id | None = Field(default=None, description="A hold that is raised.")
    advice: Line | None = Field(default=None, description="A sentence for the technician.")
    prefer: Id | None = Field(default=None, description="A repair that comes before the others of its causes.")
    forbid: Id | None = Field(default=None, description="A repair that is not proposed; another one must be left.")
    check_minutes: Id | None = Field(default=None, description="A check whose minutes change, by 'times' or 'add'.")
    repair_minutes: Id | None = Field(default=None, description="A repair whose minutes change, by 'times' or 'add'.")
    price: Id | None = Field(default=None, description="A repair whose price of parts changes, by 'times' or 'add'.")
    times: Annotated[float, Field(gt=0, le=100)] | None = None
    add: Annotated[float, Field(ge=-10_000, le=10_000)] | None = None

    @model_validator(mode="after")
    def _one_form(self) -> Conclusion:
        if sum(getattr(self, {"raise": "raises", "lower": "lowers"}.get(form, form)) is not None for form in SAYS) != 1:
            raise ValueError(f"one form per conclusion: {', '.join(SAYS[:-1])} or {SAYS[-1]}")
        if (self.by is None) == (self.raises is not None or self.lowers is not None):
            raise ValueError("'by' goes with raise and lower, and only with them")
        changed = self.check_minutes or self.repair_minutes or self.price
        if (self.times is not None) + (self.add is not None) != (1 if changed else 0):
            raise ValueError("one of 'times' and 'add' goes with check_minutes, repair_minutes and price only")
        return self

    @property
    def form(self) -> str:
        """Which of the forms it is, in the file's words."""
        return next(form for form in SAYS if self._named(form) is not None)

    @property
    def about(self) -> str:
        """The id (or, for advice, the sentence) it concludes about."""
        return str(self._named(self.form))

    def _named(self, form: str) -> str | None:
        name = {"raise": "raises", "lower": "lowers"}.get(form, form)
        named: str | None = getattr(self, name)
        return named


SAYS: tuple[str, ...] = (
    "conclude", "raise", "lower", "rule_out", "check_first", "skip", "hold", "advice", "prefer", "forbid",
    "check_minutes", "repair_minutes", "price",
)  # fmt: skip


class Example(Strict):
    """A situation to try a rule on. What is not told is not known."""

    amp: dict[Id, AmpValue] = Field(default_factory=dict)
    complaints: tuple[Id, ...] = Field(default=(), description="Symptoms the player complains of.")
    findings: tuple[Id, ...] = Field(default=(), description="Findings and symptoms that are true.")
    denied: tuple[Id, ...] = Field(default=(), description="Findings and symptoms that were answered no.")
    answers: dict[Id, str] = Field(default_factory=dict, description="Answer keys, by check.")
    values: dict[str, Number] = Field(default_factory=dict, description="Readings and figures, by CHECK/NAME.")
    minutes_since: dict[str, Number] = Field(
        default_factory=dict, description="Minutes since an entry, as in check/ID."
    )
    spoken: tuple[Id, ...] = Field(default=(), description="Other rules that have spoken.")


class Examples(Strict):
    """Situations in which the rule must speak, and others, near them, in which it must be silent."""

    speaks: tuple[Example, ...] = Field(min_length=1)
    silent: tuple[Example, ...] = Field(min_length=1)


class Rule(Cited):
    """If the condition holds, the conclusions follow; 'because' is shown wherever the rule has spoken."""

    when: Condition
    then: tuple[Conclusion, ...] = Field(min_length=1, max_length=40)
    because: Line
    examples: Examples | None = Field(default=None, description="Tried whenever the rules are checked.")
