"""Whatever a file of jobs says: all of it is taken in, or none, and what is wrong is said by line."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from chopstick.engine.jobs.store.check import problems
from chopstick.engine.jobs.store.errors import JobError
from chopstick.engine.jobs.store.store import open_store
from chopstick.engine.jobs.store.transfer import exported, lines, take_in
from hypothesis import given, settings
from hypothesis import strategies as st

from ..amount import amount
from .conftest import note, opened

ANY = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.text(max_size=8), inside, max_size=4),
    max_leaves=12,
)


def good(folder: Path) -> list[str]:
    store = open_store(folder)
    store.create(opened("one"), note("it hums"))
    store.create(opened("two"))
    return list(exported(store))


@st.composite
def spoilt(draw: st.DrawFn, text: str) -> str:
    """A good line with signs exchanged, a value exchanged, or cut off."""
    kind = draw(st.sampled_from(["sign", "value", "cut", "any"]))
    if kind == "any":
        return json.dumps(draw(ANY))
    if kind == "cut":
        return text[: draw(st.integers(0, len(text)))]
    if kind == "sign":
        place = draw(st.integers(0, len(text) - 1))
        return text[:place] + draw(st.characters(exclude_categories=["Cs"])) + text[place + 1 :]
    value = json.loads(text)
    value[draw(st.sampled_from(list(value)))] = draw(ANY)
    return json.dumps(value)


@given(data=st.data())
@settings(max_examples=amount(20, 600))
def test_a_file_is_taken_in_whole_or_not_at_all(data: st.DataObject, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("any")
    written = good(folder / "from")
    written[data.draw(st.integers(0, 1))] = data.draw(spoilt(written[1]))
    store = open_store(folder / "to")
    try:
        taken = take_in(store, lines(written, "jobs.jsonl"))
    except JobError as error:
        assert "jobs.jsonl" in str(error)
        assert list(store.jobs()) == []
    else:
        assert len(list(store.jobs())) == len({one.number for one in taken})
    assert problems(store) == []
