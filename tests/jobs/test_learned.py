"""Closed jobs teach: the closed form, an outside reference (scipy.stats), convergence, and what must never fall."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from chopstick.engine.jobs.shop.learned import Lesson, dangerous, from_store, kind_of, learn, lesson_of, posterior
from chopstick.engine.jobs.store.store import Store
from chopstick.engine.knowledge.base import KnowledgeBase
from chopstick.engine.knowledge.load import load
from chopstick.engine.knowledge.model import AmpValue
from chopstick.engine.reasoning.log import AmpFactsTold, Closed, LogEntry, Opened, Undone
from chopstick.engine.reasoning.ranking import causes_of, prior_of
from chopstick.engine.reasoning.session import Session
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from ..amount import amount
from ..shipped import shipped_knowledge
from .bench import SMALL, START, Bench

COMBO: Mapping[str, AmpValue] = {"output-class": "push-pull", "rectifier": "5AR4", "era": "modern"}


@cache
def small() -> KnowledgeBase:
    base = load(SMALL)
    return replace(base, shop=base.shop.model_copy(update={"kinds_by": ("rectifier",)}))


@cache
def whole() -> KnowledgeBase:
    return shipped_knowledge()


def lesson(number: int, *was: str, amp: Mapping[str, AmpValue] = COMBO) -> Lesson:
    return Lesson(number, START + timedelta(days=number), amp, frozenset(was))


@settings(max_examples=amount(60, 1200))
@given(
    p=st.floats(0.001, 0.5), weight=st.floats(1, 2000), amps=st.integers(1, 400), share=st.floats(0, 1),
)  # fmt: skip
def test_the_posterior_is_the_conjugate_one(p: float, weight: float, amps: int, share: float) -> None:
    """Gamma prior of mean p and weight in amps, Poisson counts: by numerical integration with scipy.stats."""
    found = round(share * amps * min(1.0, 2 * p))
    shape, rate = posterior(p, weight, found, amps)
    prior = stats.gamma(weight * p, scale=1 / weight)
    after = stats.gamma(shape, scale=1 / rate)
    assert after.mean() == pytest.approx((weight * p + found) / (weight + amps))
    at = after.mean() * np.array([0.4, 0.8, 1.0, 1.3, 2.0])
    log = prior.logpdf(at) + stats.poisson.logpmf(found, amps * at) - after.logpdf(at)
    assert log == pytest.approx(np.full(5, log[0]), abs=1e-6)  # prior times likelihood is the posterior but for a constant


def test_the_posterior_mean_by_quadrature() -> None:
    """20 in 1,000, 200 amps' weight, met on 6 of 50 amps."""
    prior = stats.gamma(4, scale=1 / 200)

    def weighed(rate: float) -> float:
        return float(prior.pdf(rate) * stats.poisson.pmf(6, 50 * rate))

    mean = integrate.quad(lambda r: r * weighed(r), 0, 1)[0] / integrate.quad(weighed, 0, 1)[0]
    shape, rate = posterior(0.02, 200, 6, 50)
    assert shape / rate == pytest.approx(mean)
    assert shape / rate == pytest.approx(10 / 250)


def test_the_table_has_the_closed_form_of_amps_that_are_alike() -> None:
    base = whole()
    table = learn(base, [lesson(n, *(["pot-track-dirty"] if n % 3 == 0 else [])) for n in range(1, 61)])
    changes = {one.cause: one for one in table.changes(kind_of(base, COMBO))}
    dirty = changes["pot-track-dirty"]
    p = prior_of(base, base.causes["pot-track-dirty"], COMBO)
    assert (dirty.amps, dirty.found) == (60, 20)
    assert dirty.prior == pytest.approx(p)
    assert dirty.now == pytest.approx((200 * p + 20) / 260)
    never = next(one for one in changes.values() if one.found == 0 and not one.kept)
    assert never.now == pytest.approx(never.prior * 200 / 260)
    taught = causes_of(base, COMBO, table)
    assert taught.network.prior[taught.column["pot-track-dirty"]] == pytest.approx(dirty.now)


def test_amps_on_which_a_cause_can_not_be_are_no_cases_seen() -> None:
    base = whole()
    table = learn(base, [lesson(n, amp={**COMBO, "reverb": "absent" if n <= 30 else "present"}) for n in range(1, 41)])
    changes = {one.cause: one for one in table.changes(kind_of(base, COMBO))}
    reverb = [one for one in base.causes.values() if one.needs.get("reverb") == "present" and len(one.needs) == 1]
    assert reverb
    assert {changes[one.id].amps for one in reverb} == {10}


def test_jobs_teach_about_their_own_kind_of_amp_only() -> None:
    base = whole()
    old = {"output-class": "single-ended", "rectifier": "5Y3GT", "era": "before-1960"}
    table = learn(base, [lesson(n, "pot-track-dirty", amp=old) for n in range(1, 20)])
    assert table.factors(COMBO) == {}
    assert table.factors(old)["pot-track-dirty"] > 1
    assert kind_of(base, {**old, "rectifier": "5U4GB"}) == kind_of(base, old)  # any tube is one kind of rectifier
    assert kind_of(base, {**old, "rectifier": "solid-state"}) != kind_of(base, old)
    assert table.kinds == {("single-ended", "tube", "before-1960"): 19}


def test_commonness_converges_to_what_a_shop_really_sees() -> None:
    """A simulation: amps with a fault at 15 in 100 where the knowledge base says otherwise."""
    base, rng = whole(), np.random.default_rng(11)
    p = prior_of(base, base.causes["pot-track-dirty"], COMBO)
    truth = 0.15
    off = []
    for jobs in (0, 100, 1000, 6000):
        had = rng.uniform(size=jobs) < truth
        table = learn(base, [lesson(n, *(["pot-track-dirty"] if one else [])) for n, one in enumerate(had, start=1)])
        off.append(abs(p * table.factors(COMBO).get("pot-track-dirty", 1.0) - truth))
    assert off[0] == pytest.approx(abs(p - truth))
    assert off[-1] < 0.015
    assert off[-1] < off[1] or off[1] < 0.015


# --- what is dangerous ---


def test_nothing_dangerous_ever_becomes_less_common() -> None:
    base = whole()
    table = learn(base, [lesson(n, "pot-track-dirty") for n in range(1, 2001)])
    guarded = dangerous(base)
    assert {one.id for one in base.causes.values() if one.hazard in ("fire", "shock")} <= guarded
    assert len(guarded) < len(base.causes) / 2
    factors = table.factors(COMBO)
    assert all(factors.get(id_, 1.0) >= 1 for id_ in guarded)
    assert min(factors.values()) < 0.2  # others have fallen far
    kept = [one for one in table.changes(kind_of(base, COMBO)) if one.kept]
    assert {one.cause for one in kept} <= guarded
    assert all(one.now == one.prior for one in kept)


@settings(max_examples=amount(15, 300))
@given(st.sampled_from(sorted(load(SMALL).causes)), st.integers(1, 3000), st.booleans())
def test_no_rivals_rise_pushes_a_dangerous_cause_down(taught: str, jobs: int, tingles: bool) -> None:
    """Whatever the closed jobs were, what can give a shock stays at least as probable as without them."""
    base = small()
    amp: dict[str, AmpValue] = {"rectifier": "5AR4"}
    bench = Bench(*(["tingle", "runs-hot"] if tingles else ["crackle", "runs-hot"]), amp=amp)
    if tingles:
        bench.answer("look-at-cord", "no")
    table = learn(base, [lesson(n, taught, amp=amp) for n in range(1, jobs + 1)])
    plain = Session(base).read(bench.log).ranking.probability
    after = Session(base, experience=table).read(bench.log).ranking.probability
    for id_ in dangerous(base):
        assert after[id_] >= plain[id_] - 1e-12


def test_a_dangerous_rival_keeps_its_place_on_the_shipped_knowledge() -> None:
    """A tingling chassis, in a shop that has closed 500 jobs as something harmless."""
    base = whole()
    bench = Bench("tingle-from-chassis", "hum-constant", amp=dict(COMBO))
    harmless = [one.id for one in base.causes.values() if "hum-constant" in one.shows and one.id not in dangerous(base)]
    table = learn(base, [lesson(n, *harmless[:3]) for n in range(1, 501)])
    plain = Session(base).read(bench.log).ranking.probability
    after = Session(base, experience=table).read(bench.log).ranking.probability
    assert after[harmless[0]] > plain[harmless[0]]
    assert all(after[id_] >= plain[id_] - 1e-12 for id_ in dangerous(base) if id_ in plain)


# --- which jobs teach ---


def closed(*was: str, other: str = "", left: tuple[str, ...] = ()) -> Closed:
    return Closed(at=START, was=was, other=other, left=left)


def test_open_jobs_and_jobs_without_a_verdict_teach_nothing() -> None:
    opened = Opened(at=START, title="a combo", fingerprint="f", amp={"era": "modern"})
    told = AmpFactsTold(at=START, amp={"rectifier": "5AR4"})
    assert lesson_of(1, [opened, told]) is None
    assert lesson_of(1, [opened, told, closed()]) is None
    found = lesson_of(1, [opened, told, closed("pot-track-dirty", left=("lamp-holder-corroded",))])
    assert found is not None
    assert found.was == {"pot-track-dirty", "lamp-holder-corroded"}
    assert found.amp == {"era": "modern", "rectifier": "5AR4"}
    nothing = lesson_of(1, [opened, closed(other="nothing wrong")])
    assert nothing is not None  # an amp seen, with none of the known causes
    assert nothing.was == frozenset()


def fill(store: Store, count: int) -> None:
    for _ in range(count):
        opened = Opened(at=START, title="a combo", fingerprint="f", amp=dict(COMBO))
        store.create(opened, closed("pot-track-dirty"))


def test_the_store_gives_the_lessons_and_a_reset_forgets_them(store: Store) -> None:
    base = whole()
    fill(store, 3)
    store.create(Opened(at=START, title="open", fingerprint="f"))
    undone: list[LogEntry] = [closed("pot-track-dirty"), Undone(at=START, number=2)]
    store.create(Opened(at=START, title="taken back", fingerprint="f"), *undone)
    table = from_store(base, store)
    assert [one.number for one in table.lessons] == [1, 2, 3]
    store.mark("learning", START + timedelta(hours=1))
    assert from_store(base, store).lessons == ()
    later = store.create(Opened(at=START, title="later", fingerprint="f"))
    later.append(Closed(at=datetime(2026, 4, 1, tzinfo=UTC), was=("pot-track-dirty",)))
    assert [one.number for one in from_store(base, store).lessons] == [later.number]


def test_the_same_lessons_make_the_same_table_and_the_same_ranking() -> None:
    base = small()
    amp: dict[str, AmpValue] = {"rectifier": "5AR4"}
    lessons = [lesson(n, "capacitor-leaky", amp=amp) for n in range(1, 30)]
    one, other = learn(base, lessons), learn(base, reversed(lessons))
    assert one.fingerprint == other.fingerprint != ""
    assert learn(base, lessons[1:]).fingerprint != one.fingerprint
    bench = Bench("crackle", amp=amp)
    first, second = (Session(base, experience=table).read(bench.log) for table in (one, other))
    assert first.ranking.probability == second.ranking.probability
    assert first.learned == one.fingerprint
    assert first.ranking.probability["capacitor-leaky"] > Session(base).read(bench.log).ranking.probability["capacitor-leaky"]
    assert Session(base).read(bench.log).learned == ""
