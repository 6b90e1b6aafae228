"""What the files can say: 'not' in a requirement, several proofs of one repair, what is normal for an amp."""

from pathlib import Path

import pytest
from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase, exclude, holds_true, meets

from ..shipped import shipped_knowledge
from .conftest import AREA


@pytest.mark.parametrize(
    ("value", "wanted", "met"),
    [
        ("EL84", "not EL34", True),
        ("EL34", "not EL34", False),
        ("EL34", ("not EL34", "not 6CA7"), False),
        ("6L6GC", ("not EL34", "not 6CA7"), True),
        ("two", ("one", "two"), True),
        ("four", ("one", "two"), False),
    ],
)
def test_not_asks_for_any_other_value(value: str, wanted: str | tuple[str, ...], met: bool) -> None:
    assert meets(value, wanted) is met


def test_not_of_an_unknown_fact_is_open_and_counts_by_its_share(shipped: KnowledgeBase) -> None:
    assert holds_true({"speakers": "not one"}, {}) is None
    assert holds_true({"speakers": "not one"}, {"speakers": "one"}) is False
    shares = shipped.amp_facts["speakers"].shares
    assert shipped.share({"speakers": "not one"}, {}) == pytest.approx(1 - shares["one"])


def test_requirements_that_no_amp_meets_exclude_each_other() -> None:
    assert exclude({"bias": "fixed"}, {"bias": "cathode"})
    assert exclude({"speakers": "not one"}, {"speakers": "one"})
    assert not exclude({"speakers": "not one"}, {"speakers": ("one", "two")})
    assert not exclude({"bias": "fixed"}, {"reverb": "present"})


def test_a_value_after_not_must_exist(root: Path) -> None:
    text = AREA.replace("commonness: everyday", "commonness: everyday\n    needs: {bias: not fixt}")
    (root / "areas" / "knobs" / "pot.yaml").write_text(text)
    (problem,) = load.check(root)
    assert (problem.lint, "Did you mean 'fixed'?" in str(problem)) == ("unknown-amp-value", True)


def test_each_cause_takes_the_proof_whose_finding_it_shows(shipped: KnowledgeBase) -> None:
    """One repair for a rectifier tube, whatever it died of; what proves it differs."""
    repair = shipped.repairs["replace-rectifier-tube"]
    proofs = {id_: repair.proof_for(shipped.causes[id_]).gone for id_ in shipped.causes
              if shipped.causes[id_].repairs[0] == repair.id}  # fmt: skip
    assert set(proofs.values()) == {
        "rectifier-tube-measured-shorted",
        "rectifier-heater-dark",
        "bplus-sags-under-drive",
    }
    assert proofs["rectifier-tube-weak"] == "bplus-sags-under-drive"
    assert repair.proof_for(None) == repair.proof[0]


def test_a_single_proof_may_stand_without_a_list(root: Path) -> None:
    one = load.load(root)
    (root / "areas" / "knobs" / "pot.yaml").write_text(
        AREA.replace("proof: {check: measure-it, gone: dc-on-pot}", "proof: [{check: measure-it, gone: dc-on-pot}]")
    )
    assert load.load(root).repairs["change-it"].proof == one.repairs["change-it"].proof


def test_what_is_normal_for_an_amp_hurts_nobody(shipped: KnowledgeBase) -> None:
    normal = [cause for cause in shipped.causes.values() if cause.by_design]
    assert normal
    assert {cause.hazard for cause in normal} == {"none"}


@pytest.fixture(scope="module")
def shipped() -> KnowledgeBase:
    return shipped_knowledge()
