"""The shipped knowledge base: sound, as broad as it says, and its schema is up to date."""

import json
import re
from pathlib import Path

import jsonschema
import pytest
from chopstick.engine.knowledge import load, model, schema, telling_apart
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.reasoning import schema as job_schema
from chopstick.engine.reference.text import read_file

from ..shipped import shipped_knowledge

KB = load.shipped()
JOBS = Path(__file__).parents[1] / "sessions"
# tube_models.yaml is written by the fitting program, not by hand
WRITTEN = sorted(path for path in [*KB.rglob("*.yaml"), *JOBS.glob("*.yaml")] if path.stem != "tube_models")


@pytest.fixture(scope="module")
def base() -> KnowledgeBase:
    return shipped_knowledge()


def test_it_is_sound_and_nothing_is_to_be_warned_of() -> None:
    assert [str(problem) for problem in load.check()] == []


def test_causes_that_share_a_symptom_are_told_apart_or_named_as_inseparable(base: KnowledgeBase) -> None:
    named = telling_apart.named_inseparable(base)
    alike = [(one.one, one.other) for one in telling_apart.pairs(base) if not one.told_apart]
    assert {frozenset(two) for two in alike} == set(named), "see: chopstick kb check"


def test_it_is_broad_enough(base: KnowledgeBase) -> None:
    assert len(base.symptoms) >= 25
    assert len(base.checks) >= 60
    assert len(base.causes) >= 70
    assert len(base.repairs) >= 60
    assert len(base.rules) >= 20


def test_figures_rest_on_publications_and_the_rest_on_common_practice(base: KnowledgeBase) -> None:
    """Forty entries and more name a publication that is in the bibliography; none rests on nothing."""
    entries = [(area, entry) for area in base.areas.values() for section in model.SECTIONS
               for entry in getattr(area, section).values() if isinstance(entry, model.Cited)]  # fmt: skip
    assert [entry.id for area, entry in entries if not base.rests_on(area, entry)] == []
    published = [entry for _, entry in entries if set(entry.sources) - {"common-practice"}]
    assert len(published) >= 40
    seen = [entry for entry in published if any(base.reference.source(id_).seen for id_ in entry.sources)]
    assert len(seen) >= 30


def test_rules_chain(base: KnowledgeBase) -> None:
    """Some rules rest on what other rules conclude."""
    from chopstick.engine.knowledge.lint.meaning import asked

    concluded = {c.conclude for rule in base.rules.values() for c in rule.then if c.conclude}
    assert [rule.id for rule in base.rules.values() if concluded & set(asked(rule.when))]


def test_every_file_opens_with_the_modeline_and_fits_the_schema_it_names() -> None:
    """An editor that reads the first line shows the manual of each key, and every slip, while the file is written."""
    wrong, validators = [], dict[Path, jsonschema.Draft202012Validator]()
    for path in WRITTEN:
        start, _, named = path.read_text().partition("\n")[0].partition("=")
        schema_file = (path.parent / named).resolve()
        if start != "# yaml-language-server: $schema" or not schema_file.is_file():
            wrong.append(f"{path}:1: names no schema")
            continue
        if schema_file not in validators:
            validators[schema_file] = jsonschema.Draft202012Validator(json.loads(schema_file.read_text()))
        errors = validators[schema_file].iter_errors(read_file(path).value)
        wrong += [f"{path}: {error.json_path}: {error.message}" for error in errors]
    assert wrong == []


def test_the_committed_schema_is_the_generated_one() -> None:
    for name, text in schema.schemas().items():
        assert (KB / "schema" / name).read_text() == text, "run: python -m chopstick.engine.knowledge.schema"
    assert job_schema.FILE.read_text() == job_schema.schema(), "run: python -m chopstick.engine.reasoning.schema"


def test_every_repair_inside_the_amp_shows_a_caution(base: KnowledgeBase) -> None:
    """Advice to the player needs none; anything that names the chassis, its parts, solder or the mains does."""
    inside = re.compile(r"chassis|solder|board|tube|capacitor|transformer|socket|discharged|mains", re.IGNORECASE)
    bare = [
        repair.id
        for repair in base.repairs.values()
        if not repair.cautions and any(inside.search(step) for step in repair.steps)
    ]
    assert not bare, f"repairs without a caution: {bare}"
