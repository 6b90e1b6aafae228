"""Files from outside: whatever is in them, they load whole, or are refused with a place; nothing crashes or hangs.

Hypothesis writes the files here; tests/fuzz lets a coverage-guided fuzzer do it.
"""

from pathlib import Path

import pytest
import yaml
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.lint.safety import matters
from chopstick.engine.reasoning.deduce import Deducer
from chopstick.engine.reference.errors import KnowledgeError
from chopstick.engine.reference.text import Document, read
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import as_file, write_area
from .test_overlay import EARTH

IDS = st.sampled_from((
    "crackle", "tingles", "dc-on-pot", "no-earth", "turn-it", "measure-it", "look-at-plug", "track-dirty",
    "capacitor-leaky", "earth-missing", "clean-it", "change-it", "fit-cord", "earth-first", "dc-says-capacitor",
    "no-earth-holds", "measure-it/pot", "new-thing", "Ümlaut", "x" * 70, "__class__", "../../etc/passwd",
))  # fmt: skip
KEYS = st.sampled_from((
    "area", "symptoms", "findings", "checks", "causes", "repairs", "holds", "rules", "prices", "inseparable", "circuits", "amend",
    "retire", "words", "title", "about", "when", "then", "because", "examples", "speaks", "silent", "all", "any", "not",
    "of", "at_least", "at_most", "finding", "denied", "unknown", "complaint", "answer", "is", "value", "above", "below",
    "since", "spoken", "amp", "raise", "lower", "by", "rule_out", "skip", "hold", "forbid", "prefer", "conclude", "id",
    "where", "safety", "cautions", "stage", "hazard", "shows", "commonness", "quiet", "blocks", "standing", "answers",
))  # fmt: skip
WORDS = st.sampled_from(("clearly", "usually", "everyday", "live", "look", "none", "shock", "yes", "knobs", "1e400"))
SCALARS = st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=12), IDS, WORDS)
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.one_of(KEYS, IDS), inner, max_size=4)
    ),
    max_leaves=25,
)  # fmt: skip
SECTIONS = ("symptoms", "findings", "checks", "causes", "repairs", "holds", "rules", "prices", "inseparable")
RULES = st.fixed_dictionaries({"when": VALUES, "then": st.lists(VALUES, max_size=3), "because": st.just("so it is")})
FILES = st.one_of(
    VALUES,
    st.fixed_dictionaries({"area": st.just("knobs")}, optional={
        "rules": st.dictionaries(IDS, RULES, max_size=3),
        "amend": st.dictionaries(st.sampled_from(SECTIONS), st.dictionaries(
            IDS, st.dictionaries(KEYS, VALUES, max_size=3), max_size=2), max_size=2),
        "retire": st.dictionaries(st.sampled_from(SECTIONS), st.lists(IDS, max_size=2), max_size=2),
        "words": st.dictionaries(IDS, st.lists(st.text(max_size=9), max_size=2), max_size=2),
        "findings": st.dictionaries(IDS, st.fixed_dictionaries({"text": st.just("New")}), max_size=2),
    }),
)  # fmt: skip


@pytest.fixture
def base(root: Path) -> Path:
    write_area(root, "earth", pin=as_file(EARTH))
    return root


@pytest.fixture
def ours(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("fuzz") / "ours.yaml"


def laid(base: Path, ours: Path, text: str) -> bool:
    """Lay a file over the base: True if it loads whole and its rules can be run, False if it is refused with a place."""
    ours.write_text(text, encoding="utf-8", errors="surrogateescape")
    try:
        loaded = load.load(base, [Layer("shop", "shop", ours)])
        Deducer(loaded)
    except KnowledgeError as refused:
        assert refused.problems
        assert all(problem.where.line >= 1 and problem.message for problem in refused.problems)
        return False
    shipped = load.load(base)
    fixed = matters(shipped)
    assert set(shipped.holds) <= set(loaded.holds)
    assert fixed.rules <= set(loaded.rules)
    assert all(set(one.cautions) <= set(loaded.checks[id_].cautions) for id_, one in shipped.checks.items() if id_ in loaded.checks)
    assert all(loaded.checks[id_].safety or not one.safety for id_, one in shipped.checks.items() if id_ in loaded.checks)
    return True


@given(FILES)
@settings(max_examples=amount(30, 2000))
def test_a_layer_of_any_shape_loads_whole_or_is_refused(base: Path, ours: Path, value: object) -> None:
    """And when it loads, no hold, caution or safety check of the base is lost."""
    laid(base, ours, yaml.safe_dump(value, allow_unicode=True))


@given(st.text(max_size=400))
@settings(max_examples=amount(300, 2000))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        document = read(text, "any.yaml")
    except KnowledgeError as refused:
        assert refused.problems
        return
    assert isinstance(document, Document)


PRINTED = st.characters(blacklist_categories=("Cc", "Cs", "Zl", "Zp"))  # what ends a line differs by version of YAML
TEXTS = st.text(PRINTED, max_size=8).map(lambda text: f"word {text}")  # never a number, by whichever version


@given(st.recursive(st.one_of(TEXTS, st.none(), st.booleans(), st.integers(-10**9, 10**9)), lambda inner: st.one_of(
    st.lists(inner, max_size=4), st.dictionaries(TEXTS, inner, max_size=4)
), max_leaves=20))  # fmt: skip
@settings(max_examples=amount(200, 2000))
def test_what_a_yaml_library_writes_is_read_back(value: object) -> None:
    """Against PyYAML's own writer, for what YAML 1.1, which it follows, and the 1.2 core rules have in common."""
    text = yaml.safe_dump(value, allow_unicode=True, default_flow_style=False)
    try:
        back = read(text, "any.yaml").value
    except KnowledgeError:
        return
    assert back == value


HOSTILE = {
    "deep": "a: " + "[" * 5000,
    "long key": "? " + "k" * 100_000 + "\n: 1\n",
    "many keys": "\n".join(f"k{n}: 1" for n in range(49_000)),  # as many as a file may have
    "many rules": "area: knobs\nrules:\n" + "\n".join(
        f"  r{n}: {{when: {{finding: dc-on-pot}}, then: [{{advice: x}}], because: y}}" for n in range(3_000)
    ),
    "wide rule": "area: knobs\nrules:\n  r: {when: {all: [" + ", ".join(
        ["{any: [" + ", ".join(["{finding: dc-on-pot}", "{denied: dc-on-pot}"] * 12) + "]}"] * 24
    ) + "]}, then: [{advice: x}], because: y}\n",
    "nested choice": "area: knobs\nrules:\n  r: {when: " + "{any: [" * 9 + "{finding: dc-on-pot}" + ", {denied: dc-on-pot}]}" * 9
    + ", then: [{advice: x}], because: y}\n",
    "python tag": "area: !!python/name:os.system\n",
    "merge key": "a: {b: 1}\n<<: {c: 2}\n",
    "huge number": "area: knobs\namend: {repairs: {clean-it: {minutes: 1e999}}}\n",
    "not a number": "area: knobs\namend: {repairs: {clean-it: {minutes: .nan}}}\n",
    "nul": "area: knobs\x00\n",
    "bom": "\ufeffarea: knobs\nretire: {rules: [dc-says-capacitor]}\n",
    "escape in a name": 'area: knobs\nfindings: {"\\e[2J": {text: x}}\n',
    "long chain": "area: knobs\nfindings:\n" + "\n".join(f"  g{n}: {{text: G}}" for n in range(600)) + "\nrules:\n"
    + "  r0: {when: {finding: dc-on-pot}, then: [{conclude: g0}], because: y}\n" + "\n".join(
        f"  r{n}: {{when: {{finding: g{n - 1}}}, then: [{{conclude: g{n}}}], because: y}}" for n in range(1, 600)
    ) + "\n",
}  # fmt: skip


@pytest.mark.parametrize("kind", HOSTILE)
def test_hostile_files_load_whole_or_are_refused(base: Path, ours: Path, kind: str) -> None:
    loads = laid(base, ours, HOSTILE[kind])
    assert loads is (kind in ("many rules", "bom", "long chain", "nested choice"))


def test_a_long_chain_of_rules_is_followed_to_its_end(base: Path, ours: Path) -> None:
    from chopstick.engine.reasoning.facts import Facts, Said

    ours.write_text(HOSTILE["long chain"])
    deducer = Deducer(load.load(base, [Layer("shop", "shop", ours)]))
    deduction = deducer.deduce(Facts(said=(Said("dc-on-pot", True, 1, "seen"),)))
    assert "g599" in {said.finding for said in deduction.findings}
