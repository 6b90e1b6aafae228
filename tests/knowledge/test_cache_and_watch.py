"""Loading from a cache is loading; and what changes while a job is open is loaded, or refused with the old kept."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.knowledge import cache, load
from chopstick.engine.knowledge.layers import Layer
from chopstick.engine.knowledge.watch import Watch

from .conftest import AREA


@pytest.fixture
def kept(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("cache") / "knowledge"


@pytest.fixture
def must_not_load(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """From the call on, reading the YAML is an error: what comes must come from the cache."""

    def forbid(*_: object, **__: object) -> None:
        raise AssertionError("the files were read again")

    return lambda: monkeypatch.setattr(load, "load", forbid)


def test_the_shipped_base_comes_out_of_the_cache_as_it_went_in(kept: Path, must_not_load: Callable[[], None]) -> None:
    fresh = cache.load(folder=kept)
    must_not_load()
    assert cache.load(folder=kept) == fresh == cache.load(folder=kept)
    assert cache.load(folder=kept).reference == fresh.reference
    assert fresh.fingerprint == cache.load(folder=kept).fingerprint


def test_a_changed_file_is_another_key(root: Path, kept: Path) -> None:
    before = cache.load(root, folder=kept)
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace("minutes: 5", "minutes: 6"))
    assert before.repairs["clean-it"].minutes == 5
    assert cache.load(root, folder=kept).repairs["clean-it"].minutes == 6


def test_a_layer_is_part_of_the_key(root: Path, kept: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    ours = tmp_path_factory.mktemp("shop") / "ours.yaml"
    ours.write_text("area: knobs\namend: {repairs: {clean-it: {minutes: 9}}}\n")
    assert cache.load(root, folder=kept).repairs["clean-it"].minutes == 5
    assert cache.load(root, [Layer("shop", "shop", ours)], kept).repairs["clean-it"].minutes == 9
    assert cache.load(root, [Layer("shop", "shop", ours)], kept).repairs["clean-it"].minutes == 9


def test_the_cache_is_private_and_plain_json(root: Path, kept: Path) -> None:
    import json

    cache.load(root, folder=kept)
    (file,) = kept.iterdir()
    assert file.stat().st_mode & 0o777 == 0o600
    assert kept.stat().st_mode & 0o777 == 0o700
    assert json.loads(file.read_text())["areas"].keys() == {"knobs"}


@pytest.mark.parametrize("spoil", ["torn", "nonsense", "writable", "link"])
def test_a_cache_that_can_not_be_believed_is_not(root: Path, kept: Path, spoil: str) -> None:
    """Torn, spoilt, writable by others, or a link: the files are read instead, and the true value comes out."""
    fresh = cache.load(root, folder=kept)
    (file,) = kept.iterdir()
    false = file.read_text().replace("Clean the track", "Touch the track")
    if spoil == "torn":
        file.write_text(false[:-20])
    elif spoil == "nonsense":
        file.write_text('{"areas": [1]}')
    elif spoil == "writable":
        file.write_text(false)
        file.chmod(0o622)
    else:
        other = kept.parent / "other.json"
        other.write_text(false)
        file.unlink()
        file.symlink_to(other)
    assert cache.load(root, folder=kept) == fresh


def test_kept_reference_figures_are_looked_at_when_they_are_asked_for(root: Path, kept: Path) -> None:
    fresh = cache.load(root, folder=kept)
    (file,) = kept.iterdir()
    file.write_text(json.dumps({**json.loads(file.read_text()), "reference": {"tubes": 3}}))
    assert cache.load(root, folder=kept).reference == fresh.reference


def test_it_is_safe_to_delete_and_does_not_grow(root: Path, kept: Path) -> None:
    for minutes in range(5, 20):
        (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace("minutes: 5", f"minutes: {minutes}"))
        cache.load(root, folder=kept)
    assert len(list(kept.iterdir())) <= cache.MOST_KEPT
    for file in kept.iterdir():
        file.unlink()
    assert cache.load(root, folder=kept).repairs["clean-it"].minutes == 19


def test_a_folder_that_can_not_be_written_costs_nothing_but_time(root: Path, kept: Path) -> None:
    kept.parent.mkdir(exist_ok=True)
    kept.write_text("a file stands in the way")
    assert cache.load(root, folder=kept) == load.load(root)


# --- watching ---


def test_a_change_is_loaded_once(root: Path) -> None:
    watch = Watch(load.load(root), root)
    assert watch.look() is None
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace("minutes: 15", "minutes: 16"))
    reloaded = watch.look()
    assert reloaded is not None
    assert (reloaded.problems, reloaded.base.repairs["change-it"].minutes) == ((), 16)
    assert watch.look() is None


def test_a_broken_file_is_refused_with_its_place_and_the_old_kept(root: Path) -> None:
    watch = Watch(load.load(root), root)
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace("minutes: 15", "minutes: fifteen"))
    refused = watch.look()
    assert refused is not None
    assert refused.base.repairs["change-it"].minutes == 15
    assert "pot.yaml:61:14" in str(refused.problems[0])
    assert watch.look() is None, "told once"
    (root / "areas" / "knobs" / "pot.yaml").write_text(AREA.replace("minutes: 15", "minutes: 17"))
    mended = watch.look()
    assert mended is not None
    assert mended.base.repairs["change-it"].minutes == 17


def test_a_touched_file_that_says_the_same_is_no_change(root: Path) -> None:
    watch = Watch(load.load(root), root)
    os.utime(root / "areas" / "knobs" / "pot.yaml", ns=(1, 1))
    assert watch.look() is None


def test_a_layer_that_comes_into_being_is_noticed(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    shop = tmp_path_factory.mktemp("shop")
    watch = Watch(load.load(root), root, lambda: (Layer("shop", "shop", shop),))
    (shop / "areas").mkdir()
    (shop / "areas" / "ours.yaml").write_text("area: knobs\nwords: {crackle: [it goes krrr]}\n")
    reloaded = watch.look()
    assert reloaded is not None
    assert "it goes krrr" in reloaded.base.symptoms["crackle"].says
