"""Knowledge bases of any size, made up, but shaped like the shipped one."""

import random
import shutil
from dataclasses import dataclass
from pathlib import Path

from chopstick.engine.knowledge import load

AREAS, LEVELS = 25, 4


@dataclass(frozen=True)
class Size:
    """How many entries a base has. concluded: findings a level, by rules; shown: findings a cause shows, beside a
    symptom. Checks tell two findings each, and repairs are proven by a check each."""

    rules: int
    causes: int
    symptoms: int
    checks: int
    repairs: int
    concluded: int
    shown: int

    @property
    def told(self) -> int:
        """Findings that checks tell."""
        return 2 * self.checks

    def times(self, count: int) -> "Size":
        """As many times the entries; each cause shows as many findings as before."""
        return Size(
            count * self.rules, count * self.causes, count * self.symptoms, count * self.checks, count * self.repairs,
            count * self.concluded, self.shown,
        )  # fmt: skip


LARGE = Size(rules=2_000, causes=5_000, symptoms=120, checks=375, repairs=370, concluded=60, shown=3)  # as a trade's
SHIPPED = Size(rules=296, causes=480, symptoms=143, checks=405, repairs=400, concluded=9, shown=6)


def write(root: Path, size: Size = LARGE) -> None:
    """Write the base below a folder: the shipped common file and reference, and areas of our own making."""
    chance = random.Random(7)
    shipped = load.shipped()
    root.mkdir(parents=True, exist_ok=True)
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    for area in range(AREAS):
        folder = root / "areas" / f"a{area}"
        folder.mkdir(parents=True)
        (folder / "area.yaml").write_text(f"title: Area {area}\nabout: Made up.\n")
        lines = ["about: Made up."]
        ours = range(area, 10**6, AREAS)
        lines += ["symptoms:", *(_symptom(n) for n in _below(ours, size.symptoms))]
        lines += [
            "findings:",
            *(f"  f{n}: {{text: Finding {n} is so}}" for n in _below(ours, size.told + LEVELS * size.concluded)),
        ]
        lines += ["checks:", *(_check(n, chance) for n in _below(ours, size.checks))]
        lines += ["causes:", *(_cause(n, size, chance) for n in _below(ours, size.causes))]
        lines += ["repairs:", *(_repair(n) for n in _below(ours, size.repairs))]
        lines += ["rules:", *(_rule(n, size, chance) for n in _below(ours, size.rules))]
        (folder / "all.yaml").write_text("\n".join(lines) + "\n")


def _below(numbers: range, count: int) -> list[int]:
    return list(range(numbers.start, count, numbers.step))


def _symptom(n: int) -> str:
    return f"  s{n}: {{name: Symptom {n}, says: [it does {n}, again {n}], ask: Does it do {n}?}}"


def _check(n: int, chance: random.Random) -> str:
    stage, cautions = chance.choice(
        [("look", ""), ("cold", "unplugged, discharge"), ("live", "live"), ("play", "loud")]
    )
    first, second = 2 * n, 2 * n + 1
    return (
        f"  c{n}:\n    name: Check {n}\n    stage: {stage}\n    minutes: {chance.randint(1, 9)}\n    do: Do it.\n"
        f"    normal: Nothing.\n    cautions: [{cautions}]\n    ask: What is there?\n"
        f'    answers: {{one: {{findings: [f{first}]}}, other: {{findings: [f{second}]}}, "no": {{}}}}'
    )


def _cause(n: int, size: Size, chance: random.Random) -> str:
    shows = {f"s{n % size.symptoms}": "often"}
    shows |= {f"f{chance.randrange(size.told)}": chance.choice(["usually", "often"]) for _ in range(size.shown)}
    told = ", ".join(f"{id_}: {word}" for id_, word in shows.items())
    return (
        f"  x{n}:\n    name: Cause {n}\n    part: part {n % 97}\n    fault: fault {n % 7}\n    group: g{n // 3}\n"
        f"    commonness: {chance.choice(['occasional', 'uncommon', 'rare', 'rare'])}\n    shows: {{{told}}}\n"
        f"    repairs: [r{n % size.repairs}]"
    )


def _repair(n: int) -> str:
    return (
        f"  r{n}:\n    name: Repair {n}\n    steps: [Do it.]\n    minutes: {5 + n % 40}\n    skill: technician\n"
        f"    cautions: [unplugged]\n    keeps: all\n    proof: {{check: c{n}, gone: f{2 * n}}}"
    )


def _rule(n: int, size: Size, chance: random.Random) -> str:
    """Rules of four levels: the first rests on what checks yield, each other one on what the level below concludes."""
    level = n % LEVELS
    given = size.told + level * size.concluded
    asks = [f"{{finding: f{chance.randrange(size.told)}}}"]
    if level:
        asks.append(f"{{finding: f{given - size.concluded + chance.randrange(size.concluded)}}}")
    else:
        asks.append(f"{{any: [{{denied: f{chance.randrange(size.told)}}}, {{finding: f{chance.randrange(size.told)}}}]}}")
    then = [
        f"{{raise: x{chance.randrange(size.causes)}, by: clearly}}",
        f"{{conclude: f{given + chance.randrange(size.concluded)}}}",
    ]
    return f"  u{n}:\n    when: {{all: [{', '.join(asks)}]}}\n    then: [{', '.join(then)}]\n    because: Rule {n} of {size.rules}"
