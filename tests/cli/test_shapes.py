"""`--json` of every command keeps its documented shape, and says the same as the text."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from chopstick.engine import reports
from chopstick.engine.report import Report
from chopstick.engine.reports.coverage import Coverage
from chopstick.engine.reports.dangers import Dangers
from chopstick.engine.reports.knowledge import EntriesListed, KnowledgeCheck, LintManual, WholeEntry
from chopstick.engine.reports.reasons import Reasons
from chopstick.engine.reports.standing import StandingOfJob
from chopstick.engine.reports.store import ListOfJobs
from chopstick.engine.reports.triage import Triage
from pydantic import BaseModel

from .conftest import COMPLAINTS, JOB, Run

FIELDS: dict[str, list[str]] = yaml.safe_load((Path(__file__).parent / "report_fields.yaml").read_text())


def models(of: type[Report] = Report) -> Iterator[type[Report]]:
    """Every report there is."""
    for module in pkgutil.iter_modules(reports.__path__):
        importlib.import_module(f"{reports.__name__}.{module.name}")
    for one in of.__subclasses__():
        yield one
        yield from models(one)


MODELS = {f"{one.__module__}.{one.__name__}": one for one in models()}
PRINTED = {one.model_fields["shape"].default: one for one in MODELS.values() if "shape" in one.model_fields}


def paths(whole: dict[str, Any], node: dict[str, Any], seen: tuple[str, ...] = ()) -> Iterator[str]:
    """Every field below a node of a JSON Schema, as in complaints.candidates.cause."""
    if "$ref" in node:
        name = node["$ref"].rpartition("/")[2]
        if name not in seen:
            yield from paths(whole, whole["$defs"][name], (*seen, name))
    for one in (*node.get("anyOf", ()), *([node["items"]] if isinstance(node.get("items"), dict) else [])):
        yield from paths(whole, one, seen)
    for key, inner in node.get("properties", {}).items():
        yield key
        yield from (f"{key}.{below}" for below in paths(whole, inner, seen))


def shaped(model: type[BaseModel], data: object) -> None:
    """The data are exactly of the shape: every field there, none besides."""
    assert isinstance(data, dict)
    model.model_validate(data)
    assert set(data) == set(model.model_fields)


def test_bench_from_a_file(run: Run) -> None:
    ran = run("bench", "--answers", str(JOB), "--json")
    assert ran.code == 0
    shaped(StandingOfJob, ran.json)
    top = {one["cause"]: one["probability"] for one in ran.json["ranking"]}
    assert top["capacitor-leaky"] > 0.8
    assert top["supply-too-high"] > 0.8
    assert [one["probability"] for one in ran.json["ranking"]] == sorted(top.values(), reverse=True)
    steps = [(one["kind"], one["id"], one["got"]) for one in ran.json["steps"]]
    assert ("check", "control-dc", "2.5 V") in steps
    assert ("hold", "ready-for-live", "yes") in steps
    assert all(one["why"] for one in ran.json["steps"])
    states = {one["repair"]: one["state"] for one in ran.json["repairs"]}
    assert states["replace-capacitor"] == "proven"
    assert states["fit-rectifier"] == "proposed"
    fit = next(one for one in ran.json["repairs"] if one["repair"] == "fit-rectifier")
    assert fit["parts"] == [
        {"part": "rectifier tube", "value": "5Y3GT", "rating": "as the tube chart says", "quantity": 1}
    ]
    assert fit["proof"]["gone"] == "plate-high"
    share = next(one for one in ran.json["values"] if one["name"] == "share")
    assert share["figure"]["steps"]
    assert share["unit"] == "percent"
    assert ran.json["minutes"]["spent"] > 0
    assert "kill" in ran.json["caution"]


def test_origins_of_findings(run: Run) -> None:
    found = {one["finding"]: one for one in run("bench", "--answers", str(JOB), "--json").json["findings"]}
    assert found["dc-on-control"]["origin"] == "reading"
    assert found["dc-on-control"]["of"] == "control-dc"
    assert found["runs-hot"]["origin"] == "complaint"


def test_a_finding_that_a_rule_made_names_the_rule(run: Run, opened: int) -> None:
    run("take", str(opened), "look-at-cord=no")
    found = {one["finding"]: one for one in run("show", str(opened), "--json").json["findings"]}
    assert (found["chassis-unearthed"]["origin"], found["chassis-unearthed"]["of"]) == ("rule", "no-earth")


def test_the_same_file_gives_the_same_result(run: Run) -> None:
    assert run("bench", "--answers", str(JOB), "--json").out == run("bench", "--answers", str(JOB), "--json").out


def test_intake(run: Run) -> None:
    ran = run("intake", *COMPLAINTS, "--amp", "power-tube=6v6gt", "--amp", "mains-here=117 V", "--json")
    shaped(Triage, ran.json)
    assert ran.json["amp"] == {"power-tube": "6V6GT", "mains-here": 117.0}
    assert ran.json["complaints"][0]["says"] == "it crackles when I turn it"
    assert ran.json["tools"]
    assert 0 < ran.json["minutes_low"] < ran.json["minutes_high"]
    assert Path(ran.json["path"]).exists()


def test_take_show_and_why(run: Run, opened: int) -> None:
    shaped(StandingOfJob, run("take", str(opened), "look-at-cord=yes", "--json").json)
    shown = run("show", str(opened), "--json").json
    shaped(StandingOfJob, shown)
    assert shown["number"] == opened
    why = run("show", str(opened), "--why", "track-dirty", "--json").json
    shaped(Reasons, why)
    assert [one["finding"] for one in why["weights"]] == ["crackle"]
    assert why["weights"][0]["log_odds"] > 1
    assert {one["check"] for one in why["turns"]} >= {"sweep-ohms", "control-dc"}


def test_kb_commands(run: Run) -> None:
    ran = run("kb", "check", "--json")
    shaped(KnowledgeCheck, ran.json)
    assert ran.json["counts"]["checks"] == 5
    shaped(EntriesListed, run("kb", "list", "causes", "--json").json)
    whole = run("kb", "show", "plates", "--json").json
    shaped(WholeEntry, whole)
    assert {"set-bias", "fit-rectifier"} <= set(whole["used_by"])
    shaped(LintManual, run("kb", "check", "--explain", "unreachable-cause", "--json").json)


def test_each_danger_is_listed_with_what_it_bars_and_by_which_findings(run: Run) -> None:
    ran = run("kb", "list", "dangers", "--json")
    shaped(Dangers, ran.json)
    told = {one["cause"]: one for one in ran.json["dangers"]}
    assert set(told) == {"bias-too-hot", "supply-too-high", "earth-lost"}
    assert (told["earth-lost"]["hazard"], told["earth-lost"]["bars"]) == ("shock", "power")
    assert {one["finding"]: one["bars"] for one in told["earth-lost"]["by"]} == {
        "cord-two-wire": "power", "chassis-unearthed": "power",
    }  # fmt: skip
    assert (told["bias-too-hot"]["bars"], told["bias-too-hot"]["by"]) == ("nothing", [])
    text = " ".join(run("kb", "list", "dangers", "--word", "earth").out.split())
    assert "Protective earth missing (earth-lost): shock, bars power" in text
    assert "(cord-two-wire: bars power)" in text
    assert "bias-too-hot" not in text


def test_kb_report(run: Run, tmp_path: Path) -> None:
    whole = run("kb", "report", "--pairs", "3", "--json").json
    shaped(Coverage, whole)
    assert whole["sharing"] >= len(whole["pairs"]) > 0
    factors = [one["ever"]["factor"] for one in whole["pairs"] if one["told_apart"]]
    assert factors == sorted(factors)
    assert whole["unchosen"] is None
    (tmp_path / "empty").mkdir()
    assert all(one["unsourced"] > 0 for one in whole["areas"]), "the small base names no source"
    tried = run("kb", "report", "--tried", str(tmp_path / "empty"), "--json").json
    assert len(tried["unchosen"]) == sum(area["counts"]["checks"] for area in tried["areas"])


def test_jobs(run: Run, opened: int) -> None:
    ran = run("jobs", "--json")
    shaped(ListOfJobs, ran.json)
    assert [(one["number"], one["job"], one["entries"]) for one in ran.json["jobs"]] == [(opened, "Small combo", 3)]


def test_bench_by_hand_keeps_the_talk_off_the_json(run: Run, opened: int) -> None:
    ran = run("bench", str(opened), "--json", typed="yes\nstop\n")
    shaped(StandingOfJob, ran.json)
    assert "CHECK: Look at the mains cord" in ran.err


@pytest.mark.parametrize("model", MODELS.values(), ids=MODELS.keys())
def test_every_report_is_frozen_and_refuses_what_it_does_not_know(model: type[BaseModel]) -> None:
    assert model.model_config["extra"] == "forbid"
    assert model.model_config["frozen"]


@pytest.mark.parametrize("shape", FIELDS)
def test_a_report_only_ever_grows(shape: str) -> None:
    """A field that was once printed stays; a new one is added to report_fields.yaml."""
    schema = PRINTED[shape].model_json_schema(mode="serialization")
    assert set(paths(schema, schema)) == set(FIELDS[shape])


def test_every_report_that_is_printed_stands_in_the_list() -> None:
    assert set(PRINTED) == set(FIELDS)
