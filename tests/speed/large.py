"""A knowledge base as large as a trade's: 2,000 rules and 5,000 causes, made up, but shaped like the shipped one."""

import random
import shutil
from pathlib import Path

from chopstick.engine.knowledge import load

RULES, CAUSES, AREAS, LEVELS = 2_000, 5_000, 25, 4
SYMPTOMS, TOLD, CONCLUDED, CHECKS, REPAIRS = 120, 750, 60, 375, 370  # findings: told by checks, concluded a level


def write(root: Path, rules: int = RULES, causes: int = CAUSES) -> None:
    """Write the base below a folder: the shipped common file and reference, and areas of our own making."""
    chance = random.Random(7)
    shipped = load.shipped()
    (root / "areas").mkdir(parents=True)
    for name in ("common.yaml", "sources.yaml"):
        shutil.copy(shipped / name, root / name)
    shutil.copytree(shipped / "reference", root / "reference")
    for area in range(AREAS):
        lines = [f"area: a{area}", f"title: Area {area}", "about: Made up."]
        ours = range(area, 10**6, AREAS)
        lines += ["symptoms:", *(_symptom(n) for n in ours[: SYMPTOMS // AREAS + 1] if n < SYMPTOMS)]
        lines += [
            "findings:",
            *(f"  f{n}: {{text: Finding {n} is so}}" for n in _below(ours, TOLD + LEVELS * CONCLUDED)),
        ]
        lines += ["checks:", *(_check(n, chance) for n in _below(ours, CHECKS))]
        lines += ["causes:", *(_cause(n, chance) for n in _below(ours, causes))]
        lines += ["repairs:", *(_repair(n) for n in _below(ours, REPAIRS))]
        lines += ["rules:", *(_rule(n, rules, chance) for n in _below(ours, rules))]
        (root / "areas" / f"a{area}.yaml").write_text("\n".join(lines) + "\n")


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


def _cause(n: int, chance: random.Random) -> str:
    shows = {f"s{chance.randrange(SYMPTOMS)}": "often"}
    shows |= {f"f{chance.randrange(TOLD)}": chance.choice(["usually", "often"]) for _ in range(3)}
    told = ", ".join(f"{id_}: {word}" for id_, word in shows.items())
    return (
        f"  x{n}:\n    name: Cause {n}\n    part: part {n % 97}\n    fault: fault {n % 7}\n    group: g{n // 3}\n"
        f"    commonness: {chance.choice(['occasional', 'uncommon', 'rare', 'rare'])}\n    shows: {{{told}}}\n"
        f"    repairs: [r{n % REPAIRS}]"
    )


def _repair(n: int) -> str:
    return (
        f"  r{n}:\n    name: Repair {n}\n    steps: [Do it.]\n    minutes: {5 + n % 40}\n    skill: technician\n"
        f"    cautions: [unplugged]\n    keeps: all\n    proof: {{check: c{n}, gone: f{2 * n}}}"
    )


def _rule(n: int, count: int, chance: random.Random) -> str:
    """Rules of four levels: the first rests on what checks yield, each other one on what the level below concludes."""
    level = n % LEVELS
    given = TOLD + level * CONCLUDED
    asks = [f"{{finding: f{chance.randrange(TOLD)}}}"]
    if level:
        asks.append(f"{{finding: f{given - CONCLUDED + chance.randrange(CONCLUDED)}}}")
    else:
        asks.append(f"{{any: [{{denied: f{chance.randrange(600)}}}, {{finding: f{chance.randrange(600)}}}]}}")
    then = [
        f"{{raise: x{chance.randrange(CAUSES)}, by: clearly}}",
        f"{{conclude: f{given + chance.randrange(CONCLUDED)}}}",
    ]
    return f"  u{n}:\n    when: {{all: [{', '.join(asks)}]}}\n    then: [{', '.join(then)}]\n    because: Rule {n} of {count}"
