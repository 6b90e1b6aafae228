"""How well sentences are understood, as figures.

python -m tests.words.score            the held-out quarter
python -m tests.words.score --tuning   the other three, with every failure
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning.words import Part, understood
from chopstick.engine.reasoning.words.ideas import words_of

from . import sentences
from .sentences import Sentence


@dataclass
class Score:
    """Shares of 1; `failed` names what went wrong, and how."""

    count: int = 0
    first: int = 0
    in_three: int = 0
    taken: int = 0
    taken_wrong: int = 0
    failed: list[str] = field(default_factory=list)

    def __str__(self) -> str:
        wrong = self.taken_wrong / self.taken if self.taken else 0.0
        return (
            f"{self.count} sentences: first {self.first / self.count:.1%}, in three {self.in_three / self.count:.1%}, "
            f"taken {self.taken / self.count:.1%}, wrong of those {wrong:.1%} ({self.taken_wrong})"
        )


def unseen(base: KnowledgeBase, told: Iterable[Sentence]) -> list[Sentence]:
    """Those that do not stand word for word in the knowledge, as short ones ('it hums') must: they prove nothing."""
    known = {
        tuple(words_of(text))
        for symptom in base.symptoms.values()
        for text in (*symptom.says, *symptom.also, symptom.name)
    }
    return [one for one in told if tuple(words_of(one.says)) not in known]


def there(parts: Iterable[Part]) -> list[Part]:
    return [part for part in parts if not part.not_there]


def singles(base: KnowledgeBase, told: Iterable[Sentence]) -> Score:
    """One complaint a sentence. It counts by the part that says most; taken, when nothing has to be asked."""
    score = Score()
    for sentence in told:
        parts = there(understood(base, sentence.says))
        best = max(parts, key=lambda part: part.offers[0].score if part.offers else 0.0, default=Part(""))
        offers = [match.symptom for match in best.offers]
        taken = [part.symptom for part in parts if part.symptom]
        score.count += 1
        score.first += offers[:1] == list(sentence.means)
        score.in_three += sentence.means[0] in offers[:3]
        score.taken += bool(taken)
        wrong = [one for one in taken if one not in sentence.means]
        score.taken_wrong += bool(wrong)
        if offers[:1] != list(sentence.means):
            score.failed.append(f"{'X' if sentence.means[0] not in offers[:3] else '-'} {sentence.says} | {sentence.means[0]} | "
                                f"{' / '.join(p.words for p in parts)} | {offers[:3]}")  # fmt: skip
        if wrong:
            score.failed.append(f"W {sentence.says} | {sentence.means[0]} | taken {taken}")
    return score


def parted(base: KnowledgeBase, told: Iterable[Sentence]) -> Score:
    """Several complaints a sentence: parted when each has a part of its own that offers it among the first three, and
    no part is left over."""
    score = Score()
    for sentence in told:
        parts = there(understood(base, sentence.says))
        offers = [[match.symptom for match in part.offers[:3]] for part in parts]
        good = len(parts) == len(sentence.means) and all(
            means in offered for means, offered in zip(sentence.means, offers, strict=True)
        )
        taken = [part.symptom for part in parts if part.symptom]
        score.count += 1
        score.first += good and all(o[:1] == [m] for m, o in zip(sentence.means, offers, strict=True))
        score.in_three += good
        score.taken += bool(taken)
        score.taken_wrong += any(one not in sentence.means for one in taken)
        if not good:
            score.failed.append(
                f"{sentence.says} | {sentence.means} | {[(p.words, o[:2]) for p, o in zip(parts, offers, strict=True)]}"
            )
    return score


def denials(base: KnowledgeBase, told: Iterable[Sentence]) -> Score:
    """What is denied is neither taken nor put first; what is complained of beside it is among the first three."""
    score = Score()
    for sentence in told:
        parts = there(understood(base, sentence.says))
        first = {part.offers[0].symptom for part in parts if part.offers}
        offered = {match.symptom for part in parts for match in part.offers[:3]}
        taken = {part.symptom for part in parts if part.symptom}
        good = not first.intersection(sentence.denied) and offered.issuperset(sentence.means)
        good = good and (bool(sentence.means) or not taken)
        score.count += 1
        score.first += good
        score.in_three += good
        score.taken += bool(taken)
        score.taken_wrong += bool(taken.difference(sentence.means))
        if not good:
            score.failed.append(
                f"{sentence.says} | {sentence.means} not {sentence.denied} | {[(p.words, p.not_there, [m.symptom for m in p.offers[:2]]) for p in understood(base, sentence.says)]}"
            )
    return score


def main() -> None:
    tuning = "--tuning" in sys.argv
    base = load.load()
    kinds: dict[str, tuple[Callable[[], Iterable[Sentence]], Callable[[KnowledgeBase, Iterable[Sentence]], Score]]] = {
        "one complaint": (sentences.single, singles),
        "several": (sentences.several, parted),
        "negated": (sentences.negated, denials),
        "vague": (sentences.vague, denials),
    }
    for name, (told, scored) in kinds.items():
        score = scored(base, unseen(base, [one for one in told() if one.held_out != tuning]))
        if tuning:
            print("\n".join(score.failed))
        print(f"{name}: {score}")


if __name__ == "__main__":
    main()
