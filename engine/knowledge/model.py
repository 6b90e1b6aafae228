"""What the knowledge base can say: one frozen model per kind of entry.

The prose of these models is the manual of the file format: it becomes the committed JSON Schema
(kb/schema/), which editors show while a file is being written.
"""

from __future__ import annotations

from functools import cached_property
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, Field, model_validator

from .entry import POWERED, STAGES, AmpValue, Cited, Entry, Id, Line, Minutes, Number, Prose, Stage, Strict, Unit
from .part_model import PartKind, Words
from .rule_model import SAYS, Conclusion, Condition, Example, Examples, Other, Rule

__all__ = [
    "POWERED",
    "SAYS",
    "SECTIONS",
    "STAGES",
    "AmpFact",
    "AmpValue",
    "AnswerOffered",
    "Area",
    "AreaHead",
    "Band",
    "Bars",
    "Cause",
    "Caution",
    "Check",
    "CircuitFault",
    "Cited",
    "CommonFile",
    "Conclusion",
    "Condition",
    "Entries",
    "Entry",
    "Example",
    "Examples",
    "FigureOf",
    "Finding",
    "Hands",
    "Hold",
    "Id",
    "Inseparable",
    "Kind",
    "Kinds",
    "Line",
    "Minutes",
    "Move",
    "MovesFile",
    "NodeVolts",
    "Number",
    "Other",
    "Part",
    "PartKind",
    "Price",
    "Proof",
    "Prose",
    "ReadingAsked",
    "Repair",
    "Rule",
    "Scale",
    "SetUpVariable",
    "Shift",
    "Shop",
    "Stage",
    "Strict",
    "SubjectFile",
    "Symptom",
    "Unit",
    "Work",
    "plain",
]  # fmt: skip


Hands = Literal["none", "outside", "inside", "clip-on", "iron"]
SetUpVariable = Literal["power-tubes", "rectifier", "chassis"]
Bars = Literal["power", "power tubes", "play", "nothing"]
Currency = Annotated[str, Field(pattern=r"^[A-Z]{3}$", description="Currency code of ISO 4217, as in EUR.")]
Money = Annotated[float, Field(ge=0, le=1e6, allow_inf_nan=False)]


class Kind(Strict):
    """One kind of a family of symptoms, as an answer to the question that separates them."""

    text: Line = Field(description="The answer spelled out.")
    symptom: Id = Field(description="The symptom it then is; it may be a family again.")


class Kinds(Strict):
    """The kinds of a family, and the question that separates them."""

    ask: Line = Field(description="The question; it is asked before anything else is done about the complaint.")
    answers: dict[Id, Kind] = Field(min_length=2, description="The kinds, by the key that is typed.")

    @property
    def symptoms(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(kind.symptom for kind in self.answers.values()))


class Symptom(Cited):
    """Something a player can notice and complain of."""

    name: Line = Field(description="What the technician calls it.")
    says: tuple[Line, ...] = Field(min_length=2, description="How players put it, in their words; used for matching.")
    also: tuple[Line, ...] = Field(
        default=(), description="More words for it, in a general and short form; used for matching, and never shown."
    )
    ask: Line = Field(description="The question that settles whether the amp does this.")
    otherwise: str = Field(
        default="hardly ever", description="How often it is there with none of the known causes (a how-often word)."
    )
    minutes: Minutes = Field(default=1, description="Minutes it takes to hear or see it.")
    safety: bool = Field(default=False, description="True when it bears on safety, whatever the tone.")
    kinds: Kinds | None = Field(
        default=None,
        description=(
            "For a family, which players name before anyone has asked ('it hums'): its kinds. Whatever shows a kind "
            "shows the family."
        ),
    )


class Finding(Cited):
    """A true/false fact about the amp, that answers, readings and rules arrive at."""

    text: Line = Field(description="A plain sentence that is true when the finding is.")
    otherwise: str = Field(
        default="hardly ever", description="How often it is found with none of the known causes (a how-often word)."
    )
    bars: bool | None = Field(
        default=None,
        description=(
            "Whether it forbids power where a dangerous cause shows it. Left out: when dangerous causes are behind it "
            "in at least half of the amps that show it."
        ),
    )
    against: tuple[Id, ...] = Field(
        default=(), description="Findings or symptoms that can't be true at the same time as this one."
    )


class Caution(Entry):
    """A standing caution, shown at each step that names it."""

    text: Prose


class AnswerOffered(Strict):
    """One possible answer to a check."""

    text: Line | None = Field(default=None, description="The answer spelled out, when its key alone is not clear.")
    findings: tuple[Id, ...] = Field(
        default=(), description="Findings (or symptoms) this answer makes true; those of the other answers turn false."
    )
    denies: tuple[Id, ...] = Field(
        default=(),
        description=(
            "Findings this answer makes false, as 'all good' does of a list looked over. Where one answer of a check "
            "denies, each makes false only what it denies: 'not all good' leaves the list to the checks of each."
        ),
    )


class ReadingAsked(Strict):
    """A number the technician measures."""

    ask: Line = Field(description="What is measured, as a short prompt.")
    unit: Unit
    point: str | None = Field(
        default=None,
        pattern=r"^[a-z0-9_*]+(\.[a-z0-9_]+)?$",
        description="The named test point, as in out_a.plate; out_*.plate for any of them.",
    )
    dc: Literal["plus", "minus"] | None = Field(
        default=None,
        description=(
            "For the DC volts from that point to the chassis and nothing else: plus, or minus where it is entered "
            "without its minus sign. A known circuit then says what to expect and, at one single point, takes it in."
        ),
    )
    quantity: Line | None = Field(
        default=None,
        description=(
            "What else than DC volts of a point it is, as a known circuit names it: 'v1a.plate at 1kHz', 'bplus_1 "
            "ripple', 'across R15'. The circuit then takes it in."
        ),
    )
    plausible: tuple[Number, Number] = Field(description="Lowest and highest value believed without asking again.")

    @model_validator(mode="after")
    def _upright(self) -> ReadingAsked:
        if self.plausible[0] >= self.plausible[1]:
            raise ValueError(f"the plausible range is upside down: {self.plausible[0]:g} to {self.plausible[1]:g}")
        if self.dc and (self.point is None or self.unit not in ("V", "mV")):
            raise ValueError("'dc' belongs to volts at a named point")
        return self


class FigureOf(Strict):
    """A figure computed from readings before anything is judged."""

    compute: str = Field(
        pattern=r"^[a-z_]+\.[a-z][A-Za-z0-9_]*$", description="The calculation, as module.function of engine/bench."
    )
    given: dict[str, str | Number] = Field(
        description=(
            "What the calculation takes. A number stands for itself; a word names a reading or a figure of this check; "
            "CHECK/READING a reading or figure of another check; amp.FACT an amp fact; tube.KEY a rating of the fitted "
            "power tube, rectifier.KEY a limit of the fitted rectifier and window.NAME.low or .high a limit of "
            "kb/reference/limits.yaml."
        )
    )
    unit: Unit | None = Field(default=None, description="Its unit; the calculation's own, so it may be left out.")
    text: Line | None = Field(default=None, description="What the figure is, in a few words.")


class Band(Strict):
    """A range of one reading or figure, and what it means."""

    of: str | None = Field(default=None, description="The reading or figure; may be left out when there is one only.")
    above: Number | str | None = Field(default=None, description="Lower bound: a number, or a word as in 'given'.")
    below: Number | str | None = Field(default=None, description="Upper bound: a number, or a word as in 'given'.")
    findings: tuple[Id, ...] = Field(
        default=(), description="Findings true inside this band; those of the quantity's other bands turn false."
    )
    text: Line = Field(description="What it means, in a few words.")

    @model_validator(mode="after")
    def _bounded(self) -> Band:
        if self.above is None and self.below is None:
            raise ValueError("a band needs 'above', 'below' or both")
        if isinstance(self.above, float) and isinstance(self.below, float) and self.above >= self.below:
            raise ValueError(f"the band is upside down: above {self.above:g} and below {self.below:g}")
        return self


class Work(Cited):
    """What a check and a repair have in common: how the amp must stand for it, and where the hands go."""

    stage: Stage = Field(
        description=(
            "How the amp must stand for it. look: unplugged, nothing opened that may be charged; cold: unplugged, bled "
            "and measured; first power: on the current limiter; live: full mains, chassis open; play: the same, with a "
            "guitar or generator in."
        )
    )
    hands: Hands | None = Field(  # optional until every entry says it
        default=None,
        description=(
            "Where the hands go, at their closest. none: nowhere, it is a question to the player; outside: eyes, ears, "
            "knobs, plugs, cords, tubes from the back, and a probe or a wooden stick held by its insulated end; "
            "inside: fingers or a tool in the chassis; clip-on: a lead clipped on in the chassis; iron: soldering."
        ),
    )
    prepare: Prose | None = Field(
        default=None,
        description=(
            "For work under power that needs hands inside first (hands: inside, clip-on or iron): what they do while "
            "the amp is unplugged, bled and measured. `do` then tells what is done under power, hands out of it."
        ),
    )
    setup: dict[SetUpVariable, Id] = Field(
        default_factory=dict,
        description=(
            "How the amp must stand beyond its stage: power-tubes: out; rectifier: out; chassis: closed (in its "
            "cabinet), or open. Only what is not as usual."
        ),
    )


class Last(Strict):
    """When a finished amp must pass a check before it goes back, once all other work is done."""

    areas: tuple[Id, ...] = Field(
        default=(), description="After a repair of a cause of one of these areas; none named: always."
    )
    amp: dict[Id, AmpValue | tuple[AmpValue, ...]] = Field(
        default_factory=dict, description="Or on an amp of which all this is known, repaired there or not."
    )


class Check(Work):
    """Something the technician does, and what it yields: an answer, or readings."""

    name: Line = Field(description="What is done, as an instruction in a few words.")
    minutes: Minutes
    do: Prose = Field(description="How to do it, for a junior: where the probe goes, the meter setting, what to move.")
    normal: Line = Field(description="What a healthy amp shows.")
    last: Last | None = Field(
        default=None, description="For what an amp must pass before it goes back: which amps, and after what work."
    )
    cautions: tuple[Id, ...] = Field(default=(), description="Cautions shown with it, of kb/common.yaml.")
    tools: tuple[Line, ...] = ()
    safety: bool = Field(default=False, description="True when it bears on safety: it then comes before live work.")
    check_over: bool = Field(
        default=True,
        description=(
            "False for what makes sense only once something is wrong, so that it has no place in the check-over of an "
            "amp that nobody complains of: a question to the player, a part swapped."
        ),
    )
    pins: dict[Id, Words] = Field(
        default_factory=dict,
        description="Electrodes whose pins are told with it, by the amp fact that says which tube is fitted.",
    )
    needs: dict[Id, AmpValue | tuple[AmpValue, ...]] = Field(
        default_factory=dict,
        description=(
            "Amp facts that must hold; a list means any one of them, and 'not VALUE' any but that. Unknown facts do "
            "not stop it."
        ),
    )
    after: tuple[Id, ...] = Field(default=(), description="Checks that must be answered or skipped first.")
    ask: Line | None = Field(default=None, description="The question, for a check that yields an answer.")
    answers: dict[str, AnswerOffered] = Field(
        default_factory=dict, description="The possible answers, by the key that is typed."
    )
    readings: dict[Id, ReadingAsked] = Field(default_factory=dict, description="The numbers it yields, by name.")
    figures: dict[Id, FigureOf] = Field(
        default_factory=dict, description="What is computed from them, by name, in order."
    )
    bands: tuple[Band, ...] = Field(default=(), description="What the readings and figures mean.")

    @model_validator(mode="after")
    def _yields(self) -> Check:
        if bool(self.answers) == bool(self.readings):
            raise ValueError("a check yields either answers or readings: give one of the two")
        if self.answers and (self.ask is None or len(self.answers) < 2):
            raise ValueError("a check with answers needs 'ask' and at least two answers")
        if (self.bands or self.figures) and not self.readings:
            raise ValueError("bands and figures belong to a check with readings")
        if self.readings and not self.bands:
            raise ValueError("a check with readings needs bands that say what the readings mean")
        return self

    @cached_property
    def outcomes(self) -> tuple[tuple[str, ...], ...]:
        """The sets of findings the check can make true, one a possible outcome that has any."""
        told = [answer.findings for answer in self.answers.values()] + [band.findings for band in self.bands]
        return tuple(dict.fromkeys(findings for findings in told if findings))

    def findings(self) -> tuple[str, ...]:
        """Every finding the check can settle, in the order of the file."""
        return self._settles

    @cached_property
    def _settles(self) -> tuple[str, ...]:
        denied = (finding for answer in self.answers.values() for finding in answer.denies)
        return tuple(dict.fromkeys([*(finding for outcome in self.outcomes for finding in outcome), *denied]))

    def absent(self, key: str) -> tuple[str, ...]:
        """The findings an answer makes false: those it denies; where no answer denies, those of the others."""
        if any(answer.denies for answer in self.answers.values()):
            return self.answers[key].denies
        return tuple(finding for finding in self._settles if finding not in self.answers[key].findings)


class Shift(Strict):
    """Makes a cause more or less common on amps of some kind."""

    when: dict[Id, AmpValue | tuple[AmpValue, ...]] = Field(min_length=1, description="Amp facts, all of which hold.")
    by: str = Field(description="A factor word: slightly, clearly or strongly.")


class CircuitFault(Strict):
    """Which faults of a circuit a cause is, in words that hold for any circuit; `*` stands for any letters."""

    part: Words = Field(
        min_length=1,
        description="Parts of kb/parts: what circuit files call them, and every kind of them, is meant.",
    )
    fault: Words = Field(min_length=1, description="Faults, as a circuit's ranking names them: open, leaky, dead ...")
    stage: Words = Field(default=(), description="Kinds of stage it is in; none named: any.")


class Cause(Cited):
    """One fault mode of one part or stage."""

    name: Line
    part: Words = Field(min_length=1, description="The part at fault, of kb/parts; several: one of them.")
    which: Line | None = Field(default=None, description="Which of them, or where it sits: 'of the tone network'.")
    fault: Words = Field(
        min_length=1, description="How it fails, in the words of its entry in kb/parts; several: one of them."
    )
    group: Id | None = Field(default=None, description="Causes of one group exclude one another; default: its own.")
    commonness: str = Field(description="How common on the bench (a commonness word).")
    more: tuple[Shift, ...] = Field(default=(), description="Kinds of amp on which it is more common.")
    less: tuple[Shift, ...] = Field(default=(), description="Kinds of amp on which it is less common.")
    needs: dict[Id, AmpValue | tuple[AmpValue, ...]] = Field(
        default_factory=dict,
        description="Amp facts without which it can't exist, as in a check's needs. Unknown facts do not rule it out.",
    )
    by_design: bool = Field(
        default=False,
        description="True for what is normal for this amp: no fault; its repair is to explain it to the owner.",
    )
    hazard: Literal["none", "damage", "fire", "shock"] = Field(
        default="none", description="What it can do if the amp is left on, or touched."
    )
    bars: Bars | None = Field(
        default=None,
        description=(
            "What its danger forbids while a finding stands that it is likely behind: power (any), power tubes (power "
            "with the power tubes in), play (driving it), nothing. Left out: power for shock and fire; to be said for "
            "damage."
        ),
    )
    shows: dict[Id, str] = Field(min_length=1, description="Findings and symptoms it shows, and how often.")
    repairs: tuple[Id, ...] = Field(min_length=1, description="Repairs, the preferred one first.")
    circuit: tuple[CircuitFault, ...] = Field(
        default=(), description="Its faults in a circuit; volts read on a known circuit point to or away from it."
    )
    why: Line | None = Field(default=None, description="How it does what it does, in a sentence.")


class Part(Strict):
    """A part a repair takes, by value and rating rule; never by brand."""

    part: Words = Field(min_length=1, description="The part, of kb/parts; several: any one of them, as it turns out.")
    which: Line | None = Field(default=None, description="Which of that kind: 'matched', 'insulated'.")
    value: Line | None = Field(default=None, description="The value, in trade notation, or the rule that gives it.")
    rating: Line | None = Field(default=None, description="The rating rule: volts, watts, temperature, class.")
    stands: Line | None = Field(
        default=None, description="The least it must withstand, as a figure, where the rating rule gives one: 630 V."
    )
    quantity: int = Field(default=1, ge=1, le=100)
    price: Id | None = Field(default=None, description="What one costs: an entry of `prices`.")


def _listed(value: object) -> object:
    return value if isinstance(value, list | tuple) else (value,)


class Proof(Strict):
    """The check that proves a repair."""

    check: Id = Field(description="The check; again-SYMPTOM is the one that asks about a symptom again.")
    gone: Id | None = Field(default=None, description="The finding or symptom that must now be answered no.")
    found: Id | None = Field(default=None, description="Or the finding that must now be true.")

    @model_validator(mode="after")
    def _one(self) -> Proof:
        if (self.gone is None) == (self.found is None):
            raise ValueError("a proof names either 'gone' or 'found'")
        return self


class Repair(Work):
    """What is done about a cause. Its stage: look for what touches nothing in the chassis (a tube changed, a word to
    the player), cold for work inside, live or play for what is set under power at the end."""

    stage: Stage = "cold"  # until every entry says it
    name: Line
    steps: tuple[Prose, ...] = Field(min_length=1)
    minutes: Minutes
    skill: Literal["junior", "technician", "senior"]
    parts: tuple[Part, ...] = ()
    cautions: tuple[Id, ...] = ()
    keeps: Line = Field(description="What of the amp's intent must not change.")
    changes: dict[Id, AmpValue] = Field(
        default_factory=dict,
        description=(
            "What it makes of the amp: amp facts that hold once it is done. `as designed` takes the value of the fact "
            "FACT-designed; `asked` has the technician asked what it is now."
        ),
    )
    settles: Line | None = Field(
        default=None, description="What to expect while a new part settles, and what to look at again; for the owner."
    )
    proof: Annotated[tuple[Proof, ...], BeforeValidator(_listed, json_schema_input_type=Proof | tuple[Proof, ...])] = (
        Field(
            min_length=1,
            description="The check that proves it; or a list: each cause takes the first whose finding it shows.",
        )
    )

    def proof_for(self, cause: Cause | None) -> Proof:
        """The proof of this repair when it is done for a cause."""
        fit = (one for one in self.proof if cause is not None and one.gone is not None and one.gone in cause.shows)
        return next(fit, self.proof[0])


class Hold(Cited):
    """A safety stop: cleared only by an explicit answer."""

    text: Prose = Field(description="What is wrong, or must be made sure, and why.")
    ask: Line = Field(description="The question; only 'yes' clears the hold.")
    blocks: Stage = Field(description="Nothing from this stage of work on is offered while the hold is open.")
    standing: bool = Field(default=False, description="True for one that is there on every job.")


class NodeVolts(Strict):
    """The volts that a move asks of each filter node."""

    ask: Line = Field(description="What is measured, said once for every node.")
    below: Annotated[float, Field(gt=0, le=100)] = Field(description="Every node must read less, in volts DC.")
    high: Prose = Field(description="What to do when a node does not fall.")


class Move(Hold):
    """What takes the amp from one set-up to another: one step on the screen, with all that it asks, and answered once.
    `text` says what it is about, `ask` is the question of the whole; `blocks` is the stage of work that it leads to.
    It holds until the amp is moved on."""

    standing: Literal[True] = True
    name: Line
    minutes: Minutes
    steps: tuple[Prose, ...] = Field(min_length=1)
    cautions: tuple[Id, ...] = ()
    confirm: dict[Id, Line] = Field(default_factory=dict, description="What must be so before it is called done.")
    volts: NodeVolts | None = Field(default=None, description="What each filter node must read.")
    through: tuple[Id, ...] = Field(
        default=(),
        description="Checks done on the way, in order, before anything of its stage: power brought up in steps.",
    )
    anew_after: tuple[Id, ...] = Field(
        default=(), description="Areas: once a repair of one of their causes is done, `through` is gone through anew."
    )


class MovesFile(Strict):
    """kb/moves.yaml: how the amp is taken from one set-up to another."""

    moves: dict[Id, Move]
    words_of_hands: tuple[Line, ...] = Field(
        default=(), description="Words that speak of hands in the chassis, for the texts of work under power."
    )


class Inseparable(Entry):
    """Causes that the trade can't tell apart before a repair is tried, though they share a symptom."""

    causes: tuple[Id, ...] = Field(min_length=2, description="The causes; each two of them are meant.")
    because: Line = Field(description="Why no check separates them, and what is done then.")


class Price(Entry):
    """What one part costs the shop."""

    name: Line
    each: Money
    currency: Currency
    part: Line | None = Field(
        default=None,
        description=(
            "A part of kb/parts, by id or any of its names: this is then the price of each such part, and of each kind "
            "of it, that has no closer price."
        ),
    )
    value: Words = Field(
        default=(), max_length=2, description="It holds for this value only; or from the first value to the second."
    )
    rating: Line | None = Field(
        default=None, description="What it withstands, as a figure: it serves every part that must withstand no more."
    )


class Shop(Strict):
    """The shop's terms. A layer sets what it wants to change of them under `shop`."""

    currency: Currency | None = Field(default=None, description="What estimates are made in.")
    hour: Money | None = Field(default=None, description="What an hour at the bench costs the owner, in `currency`.")
    warranty_days: Annotated[int, Field(ge=0, le=36500)] | None = Field(
        default=None, description="How long the shop warrants a repair, from the day the job is closed."
    )
    learn: bool = Field(default=True, description="Whether closed jobs change what is expected of the next amp.")
    prior_amps: Annotated[float, Field(gt=0, le=1e6, allow_inf_nan=False)] = Field(
        default=200,
        description="How many closed jobs weigh as much as the knowledge base's own word on how common a cause is.",
    )
    kinds_by: tuple[Id, ...] = Field(
        default=(), description="The amp facts that make a kind of amp; jobs teach about their own kind only."
    )


class AmpFact(Entry):
    """Something about the amp that is asked at intake, as far as it matters."""

    ask: Line
    choices: dict[str, Line] = Field(
        default_factory=dict, description="The values, each with a few words; empty: a number."
    )
    unit: Unit | None = Field(default=None, description="The unit, for a number.")
    plausible: tuple[Number, Number] | None = None
    first: bool = Field(default=False, description="True when it bears on safety: asked before the complaints.")
    shares: dict[str, Annotated[float, Field(gt=0, lt=1)]] = Field(
        default_factory=dict,
        description="Of amps on the bench, what share has each value; used while the value is not known.",
    )
    from_reference: Literal["tubes", "rectifiers"] | None = Field(
        default=None, description="The choices are the type numbers of this reference table, and those listed."
    )


class Scale(Strict):
    """The words of degree, mapped to numbers in one place."""

    how_often: dict[str, Annotated[float, Field(gt=0, lt=1)]] = Field(
        description="How often a cause shows a finding: a probability, never quite 0."
    )
    commonness: dict[str, Annotated[float, Field(gt=0, lt=1000)]] = Field(
        description="How common a cause is: in how many of 1,000 amps on the bench."
    )
    factor: dict[str, Annotated[float, Field(gt=1)]] = Field(
        description="By how much odds are raised or lowered: a factor."
    )
    change_of_stage_minutes: dict[Stage, Annotated[float, Field(ge=0)]] = Field(
        description="Minutes to move the work to this stage: power down and discharge, or set up and power up."
    )
    unexplained_minutes: Minutes = Field(description="Bench minutes lost on a complaint nothing here explains.")
    hunch_minutes: Minutes = Field(description="Bench minutes a repair on a hunch costs beside the work itself.")
    sure: Annotated[float, Field(gt=0.5, lt=1)] = Field(
        description="How probable a cause must be before its repair is proposed."
    )
    sure_at: dict[Id, Annotated[float, Field(gt=0.5, lt=1)]] = Field(
        default_factory=dict, description="The same, at a level of experience (junior, senior) for which it differs."
    )

    @property
    def least_sure(self) -> float:
        """How probable a cause must be at the level that asks for least."""
        return min(self.sure, *self.sure_at.values()) if self.sure_at else self.sure


class AreaHead(Strict):
    """kb/areas/AREA/area.yaml: what an area is called and is about. Its entries stand in the files beside it."""

    title: Line
    about: Prose
    source: Id | None = Field(
        default=None, description="What its entries rest on that name no source of their own: one of kb/sources.yaml."
    )


class Entries(Strict):
    """Entries of every kind, by id."""

    symptoms: dict[Id, Symptom] = Field(default_factory=dict)
    findings: dict[Id, Finding] = Field(default_factory=dict)
    checks: dict[Id, Check] = Field(default_factory=dict)
    causes: dict[Id, Cause] = Field(default_factory=dict)
    repairs: dict[Id, Repair] = Field(default_factory=dict)
    holds: dict[Id, Hold] = Field(default_factory=dict)
    rules: dict[Id, Rule] = Field(default_factory=dict)
    parts: dict[Id, PartKind] = Field(default_factory=dict)
    prices: dict[Id, Price] = Field(default_factory=dict)
    inseparable: dict[Id, Inseparable] = Field(default_factory=dict)


class SubjectFile(Entries):
    """A file of kb/areas/AREA: all there is of one part or subject, from what is noticed to how it is repaired."""

    about: Line = Field(description="What the file is about, in one line.")


class Area(AreaHead, Entries):
    """A whole area, put together from its files. area: its name, which is its folder's."""

    area: Id


class CommonFile(Strict):
    """kb/common.yaml: what all areas share: amp facts, cautions, the scale of words, and terms
    that a shop may change."""

    scale: Scale
    cautions: dict[Id, Caution]
    amp_facts: dict[Id, AmpFact]
    shop: Shop = Shop()


SECTIONS: tuple[str, ...] = (
    "symptoms", "findings", "checks", "causes", "repairs", "holds", "rules", "parts", "prices", "inseparable",
)  # fmt: skip


def plain(value: Any) -> Any:
    """A model's value as plain YAML types, for printing and hashing."""
    return value.model_dump(mode="json", by_alias=True, exclude={"where"}) if isinstance(value, BaseModel) else value
