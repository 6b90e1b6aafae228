"""`chopstick rules`: check, explain, why-not, trial, new; in a folder of a shop's own."""

from __future__ import annotations

from pathlib import Path

import pytest
from chopstick.engine.jobs.shop import trial
from chopstick.engine.knowledge import load
from chopstick.engine.reports.knowledge import Layers, Origins
from chopstick.engine.reports.rules import RulesCheck, RulesTold, Trial, WhyNot

from .conftest import JOB, SMALL, Run
from .test_shapes import shaped

OURS = """\
area: small
rules:
  damp-tracks:
    when: {all: [{complaint: crackle}, {amp: {storage: damp}}]}
    then: [{raise: track-dirty, by: clearly}]
    because: Damp makes tracks dirty.
    examples:
      speaks: [{complaints: [crackle], amp: {storage: damp}}]
      silent: [{complaints: [crackle]}]
"""


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop's folder with one rule; the user's own folders are empty ones of the test."""
    folder = tmp_path / "shop"
    (folder / "areas").mkdir(parents=True)
    (folder / "areas" / "ours.yaml").write_text(OURS)
    monkeypatch.setenv("CHOPSTICK_SHOP", str(folder))
    monkeypatch.setenv("CHOPSTICK_USER", str(tmp_path / "user"))
    return folder


def test_check_counts_rules_and_examples(run: Run, shop: Path) -> None:
    ran = run("rules", "check")
    assert ran.code == 0, ran.out
    assert "4 rules, 2 examples come out as they say." in ran.out
    shaped(RulesCheck, run("rules", "check", "--json").json)


def test_check_names_the_line_and_column_and_fails(run: Run, shop: Path) -> None:
    file = shop / "areas" / "ours.yaml"
    file.write_text(OURS.replace("track-dirty", "track-durty").replace("silent: [{", "silent: [{amp: {storage: damp}, "))
    ran = run("rules", "check")
    assert ran.code == 1
    assert f"{file}:5:20: error: rules.damp-tracks.then.0.raise: there is no cause 'track-durty'." in ran.out
    assert "Did you mean 'track-dirty'?" in ran.out
    assert f"{file}:9:16: error: rules.damp-tracks.examples.silent.0: the rule speaks in an example" in ran.out


def test_check_refuses_what_would_lower_a_safety_matter(run: Run, shop: Path) -> None:
    new = shop.parent / "new.yaml"
    new.write_text("area: small\namend: {rules: {no-earth-no-power: {then: [{advice: Go on.}]}}}\n")
    ran = run("rules", "check", str(new))
    assert ran.code == 1
    assert "that is refused [safety-lowered]" in ran.out


def test_explain_says_a_rule_in_sentences(run: Run, shop: Path) -> None:
    told = run("rules", "explain", "damp-tracks").out
    assert "the player complains of: Crackles when a knob is turned" in told
    assert "storage is damp" in told
    assert "Dirty control track: clearly more likely" in told
    assert "Damp makes tracks dirty." in told
    shape = run("rules", "explain", "--json").json
    shaped(RulesTold, shape)
    assert len(shape["rules"]) == 4


def test_an_unknown_rule_is_asked_back(run: Run, shop: Path) -> None:
    ran = run("rules", "explain", "damp-track")
    assert (ran.code, "Did you mean 'damp-tracks'?" in ran.err) == (2, True)


def test_why_not_names_the_condition_and_what_is_known_instead(run: Run, opened: int, shop: Path) -> None:
    told = run("rules", "why-not", "damp-tracks", str(opened))
    assert "It has NOT spoken on job 1." in told.out
    assert "[x] the player complains of: Crackles when a knob is turned" in told.out
    assert "[?] storage is damp: storage is not known" in told.out
    shape = run("rules", "why-not", "damp-tracks", str(opened), "--json").json
    shaped(WhyNot, shape)
    assert shape["missing"] == [{"condition": "storage is damp", "verdict": "open", "now": "storage is not known"}]


def test_why_not_tells_a_reading_with_its_unit(run: Run, opened: int, shop: Path) -> None:
    (shop / "areas" / "ours.yaml").write_text(
        "area: small\nrules:\n  far-over: {when: {value: plates/plate-volts, above: 400}, then: [{advice: x}], because: y}\n"
    )
    run("take", str(opened), "look-at-cord=yes", "plates.plate-volts=380", "--hold", "ready-for-live=yes")
    assert "Plate to cathode is 380 V" in " ".join(run("rules", "why-not", "far-over", str(opened)).out.split())


def test_explain_tells_what_has_spoken_on_a_job(run: Run, opened: int, shop: Path) -> None:
    assert "No rule has spoken" in run("rules", "explain", "--job", str(opened)).out
    run("take", str(opened), "look-at-cord=no")
    told = run("rules", "explain", "--job", str(opened)).out
    assert "It has spoken: The mains cord has no earth wire." in told
    assert "Keep it unplugged until the earth is there." in told


def test_trial_runs_kept_jobs_and_samples(run: Run, opened: int, shop: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.yaml"
    new.write_text(
        "area: small\nrules:\n  knobs: {when: {complaint: crackle}, then: [{raise: track-dirty, by: strongly}], because: y}\n"
    )
    (tmp_path / "samples").mkdir()
    (tmp_path / "samples" / "sample.yaml").write_text(JOB.read_text())
    ran = run("rules", "trial", str(new), "--samples", str(tmp_path / "samples"), "--json")
    shaped(Trial, ran.json)
    kept, sample = ran.json["jobs"]
    assert kept["job"] == "job 1: Small combo"
    assert kept["moved"][0]["cause"] in ("track-dirty", "capacitor-leaky")
    assert sample["job"] == "sample"
    assert sum(ran.json["counts"].values()) == 2
    text = run("rules", "trial", str(new), "--samples", str(tmp_path / "samples"))
    assert "2 jobs, each run twice" in text.out
    assert "job 1: Small combo" in text.out


def test_broken_knowledge_is_not_tried(run: Run, shop: Path, tmp_path: Path) -> None:
    new = tmp_path / "new.yaml"
    new.write_text("area: small\nrules: {x: {when: {}, then: [], because: y}}\n")
    ran = run("rules", "trial", str(new))
    assert ran.code == 1
    assert "one form per condition" in ran.err


def test_new_asks_in_plain_language_and_writes_a_sound_rule(run: Run, shop: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine" / "rule.yaml"
    typed = "\n".join([
        "Leaky capacitors make knobs crackle in old damp amps", "found", "DC on the control", "1", "yes", "amp", "storage",
        "damp", "yes", "reading", "plates/plate-volts", "above", "300", "no", "raise", "capacitor-leaky", "clearly", "yes",
        "advice", 'Say "hello": # not a comment', "no", "", "",
    ])  # fmt: skip
    ran = run("rules", "new", "--out", str(out), typed=typed)
    assert ran.code == 0, ran.out + ran.err
    assert "5 rules, 4 examples come out as they say." in ran.out
    text = out.read_text()
    assert "# What follows then." in text
    assert "- {value: plates/plate-volts, above: 300}" in text
    told = run("rules", "check", str(out), "--json").json
    assert told["errors"] == 0


def test_new_writes_nothing_when_broken_off(run: Run, shop: Path, tmp_path: Path) -> None:
    out = tmp_path / "rule.yaml"
    assert run("rules", "new", "--out", str(out), typed="something\nfound\n").code == 2
    assert not out.exists()


# --- layers everywhere else ---


def test_origin_tells_the_layer_file_and_line_of_each_value(run: Run, shop: Path) -> None:
    (shop / "areas" / "more.yaml").write_text("area: small\namend:\n  causes:\n    track-dirty:\n      commonness: rare\n")
    shape = run("packs", "origin", "track-dirty", "--json").json
    shaped(Origins, shape)
    told = {one["field"]: (Path(one["where"].rsplit(":", 2)[0]).name, one["layer"]) for one in shape["values"]}
    assert told["commonness"] == ("more.yaml", "shop")
    assert told["name"] == ("small.yaml", "")
    assert "more.yaml:5:7" in run("packs", "origin", "track-dirty").out.replace("\n", "").replace(" ", "")
    assert run("packs", "origin", "nothing-such").code == 2


def test_a_shop_may_be_named_on_the_line(process: Run, shop: Path, tmp_path: Path) -> None:
    ran = process("rules", "explain", "damp-tracks", "--shop", str(shop), "--kb", str(SMALL), CHOPSTICK_SHOP="")
    assert "Damp makes tracks dirty." in ran.out
    lost = process("rules", "check", "--shop", str(tmp_path / "nowhere"), CHOPSTICK_SHOP="")
    assert lost.code == 1
    assert "there is no such folder" in lost.err


def test_a_jobs_own_layer_is_laid_on_that_job_only(run: Run, opened: int, shop: Path, jobs: Path) -> None:
    own = jobs / "0001.knowledge" / "areas"
    own.mkdir(parents=True)
    (own / "only-here.yaml").write_text(OURS.replace("damp-tracks", "only-here"))
    assert "has NOT spoken" in run("rules", "why-not", "only-here", str(opened)).out
    assert run("rules", "explain", "only-here").code == 2


# --- packs ---


@pytest.fixture
def pack(tmp_path: Path) -> Path:
    folder = tmp_path / "download"
    (folder / "areas").mkdir(parents=True)
    (folder / "pack.yaml").write_text('name: knob-lore\nversion: "1.2"\nabout: About knobs.\nneeds: {chopstick: ">=0.1"}\n')
    (folder / "areas" / "knobs.yaml").write_text("area: controls\nwords: {knob-crackle: [it goes krrr]}\n")
    (folder / "run-me.sh").write_text("echo no\n")
    return folder


def test_a_pack_is_compared_taken_in_updated_and_taken_out(run: Run, pack: Path, shop: Path, tmp_path: Path) -> None:
    (shop / "areas" / "ours.yaml").write_text("area: controls\n")
    ran = run("packs", "diff", str(pack), kb=None)
    assert ran.code == 0, ran.err
    assert "changed: symptoms knob-crackle" in ran.out
    assert "it goes krrr" in ran.out
    assert run("packs", "add", str(pack), typed="no\n", kb=None).out.endswith("Nothing was changed.\n")
    assert run("packs", "add", str(pack), "--yes", kb=None).code == 0
    kept = tmp_path / "user" / "packs" / "knob-lore"
    assert sorted(path.name for path in kept.rglob("*")) == ["areas", "knobs.yaml", "pack.yaml"]
    shape = run("packs", "list", "--json", kb=None).json
    shaped(Layers, shape)
    assert [(one["name"], one["version"]) for one in shape["layers"]] == [("pack knob-lore", "1.2"), ("shop", "")]
    (pack / "pack.yaml").write_text((pack / "pack.yaml").read_text().replace("1.2", "1.3"))
    (pack / "areas" / "knobs.yaml").write_text("area: controls\nwords: {knob-crackle: [it goes brrr]}\n")
    told = run("packs", "add", str(pack), "--yes", kb=None).out
    assert "knob-lore 1.3, over version 1.2" in told
    assert any(line.strip().startswith("+") and "brrr" in line and "krrr" not in line for line in told.splitlines())
    assert run("packs", "remove", "knob-lore", kb=None).code == 0
    assert run("packs", "remove", "knob-lore", kb=None).code == 2
    assert run("packs", "list", "--json", kb=None).json["layers"][0]["name"] == "shop"


@pytest.mark.parametrize(
    ("file", "old", "new", "words"),
    [
        ("pack.yaml", ">=0.1", ">=9", "needs chopstick >=9; there is"),
        ("pack.yaml", 'chopstick: ">=0.1"', 'other-pack: ">=1"', "needs the pack 'other-pack' (>=1), which is not there"),
        ("pack.yaml", ">=0.1", "rm -rf", "can't be read"),
        ("pack.yaml", 'version: "1.2"', "version: latest", "should match pattern"),
        ("pack.yaml", "knob-lore", "../../etc", "should match pattern"),
        ("areas/knobs.yaml", "words", "retire: {holds: [no-protective-earth]}\nwords", "bears on safety"),
        ("areas/knobs.yaml", "knob-crackle", "knob-krackle", "Did you mean 'knob-crackle'?"),
    ],
)
def test_a_pack_that_does_not_fit_is_refused(
    run: Run, pack: Path, shop: Path, tmp_path: Path, file: str, old: str, new: str, words: str
) -> None:
    (shop / "areas" / "ours.yaml").write_text("area: controls\n")
    (pack / file).write_text((pack / file).read_text().replace(old, new))
    ran = run("packs", "add", str(pack), "--yes", kb=None)
    assert ran.code == 1
    assert words in ran.err
    assert not (tmp_path / "user" / "packs" / "knob-lore").exists()


def test_a_folder_without_a_manifest_is_no_pack(run: Run, shop: Path, tmp_path: Path) -> None:
    ran = run("packs", "add", str(tmp_path), "--yes", kb=None)
    assert (ran.code, "a pack is a folder with pack.yaml" in ran.err) == (1, True)


def test_without_a_folder_named_the_sample_jobs_that_came_along_are_tried(
    run: Run, shop: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the shipped knowledge; another knowledge base has none of its own."""
    tried: list[list[str]] = []

    def note(cases: list[trial.Case], *_: object, **__: object) -> list[trial.TriedTwice]:
        tried.append([case.name for case in cases])
        return []

    monkeypatch.setattr(trial, "trial", note)
    new = tmp_path / "new.yaml"
    new.write_text("area: controls\nrules: {x: {when: {complaint: knob-crackle}, then: [{advice: x}], because: y}}\n")
    (shop / "areas" / "ours.yaml").unlink()
    assert run("rules", "trial", str(new), kb=None).code == 0
    new.write_text(new.read_text().replace("controls", "small").replace("knob-crackle", "crackle"))
    assert run("rules", "trial", str(new)).code == 0
    along = {path.stem for path in (load.shipped() / "practice").glob("*.yaml")}
    assert len(along) >= 10
    assert along <= set(tried[0])
    assert tried[1] == []
