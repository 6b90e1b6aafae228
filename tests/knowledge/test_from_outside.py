"""Folders of somebody else's: nothing in them is waited for, read without end, or left out of what was shown."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from chopstick.engine.circuit.collection import Circuits
from chopstick.engine.knowledge import cache, load, packs
from chopstick.engine.knowledge.folder import fingerprint
from chopstick.engine.knowledge.layers import MOST_BYTES, MOST_FILES, Layer
from chopstick.engine.knowledge.validate import MOST_TOLD
from chopstick.engine.reference import nodes
from chopstick.engine.reference.errors import KnowledgeError

from ..circuit.test_files import GOOD

MANIFEST = 'name: knob-lore\nversion: "1.2"\nabout: About knobs.\n'


def pipe(path: Path) -> None:
    os.mkfifo(path)


def device(path: Path) -> None:
    path.symlink_to("/dev/zero")


def huge(path: Path) -> None:
    with path.open("wb") as file:
        file.truncate(2_000_000_000)  # of nothing: it takes no room


def folder_of_that_name(path: Path) -> None:
    path.mkdir()


TRAPS = {"a pipe": pipe, "a link to a device": device, "two gigabytes": huge, "a folder": folder_of_that_name}


@pytest.fixture
def pack(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("download")
    (folder / "areas").mkdir()
    (folder / "circuits").mkdir()
    (folder / "pack.yaml").write_text(MANIFEST)
    (folder / "areas" / "knobs.yaml").write_text("area: knobs\nwords: {crackle: [it goes krrr]}\n")
    (folder / "circuits" / "our-own-amp.yaml").write_text(GOOD)
    (folder / "run-me.sh").write_text("echo no\n")
    return folder


@pytest.mark.parametrize("trap", TRAPS)
@pytest.mark.parametrize("place", ["pack.yaml", "areas/trap.yaml", "circuits/trap.yaml"])
def test_a_trap_in_a_layer_is_refused_with_its_place(trap: str, place: str, root: Path, pack: Path) -> None:
    """By all that reads a layer: what loads it, what takes it in, the cache; and its fingerprint does not wait."""
    (pack / place).unlink(missing_ok=True)
    TRAPS[trap](pack / place)
    layer = Layer("pack", "pack download", pack)
    assert fingerprint(root, [layer])
    tries: list[Callable[[], object]] = [
        lambda: load.load(root, [layer]),
        lambda: cache.load(root, [layer], pack.parent / "cache"),
        lambda: packs.take_in(pack, pack.parent / "packs"),
    ]
    for reads in tries:
        with pytest.raises(KnowledgeError) as told:
            reads()
        assert str(pack) in str(told.value)
    assert not list((pack.parent / "packs").glob("*"))


@pytest.mark.parametrize("trap", TRAPS)
@pytest.mark.parametrize("place", ["trap.yaml", "areas/knobs/trap.yaml"])
def test_a_trap_in_a_base_is_not_waited_for(trap: str, place: str, root: Path) -> None:
    """Where it is part of the base it is refused; elsewhere it is left alone."""
    TRAPS[trap](root / place)
    assert fingerprint(root)
    assert bool(load.check(root)) == place.startswith("areas")
    if place.startswith("areas"):
        with pytest.raises(KnowledgeError, match=r"trap\.yaml"):
            load.load(root)
    else:
        assert load.load(root).fingerprint == fingerprint(root)


def test_a_layer_has_so_many_files_and_bytes_and_no_more(root: Path, pack: Path) -> None:
    layer = Layer("pack", "pack download", pack)
    for number in range(MOST_FILES):
        (pack / "areas" / f"more-{number}.yaml").write_text("area: knobs\n")
    with pytest.raises(KnowledgeError, match=f"more than {MOST_FILES} files"):
        load.load(root, [layer])
    for path in (pack / "areas").glob("more-*"):
        path.unlink()
    (pack / "areas" / "long.yaml").write_text("area: knobs\n" + "#" * MOST_BYTES)
    with pytest.raises(KnowledgeError, match=f"more than {MOST_BYTES:,} bytes"):
        load.load(root, [layer])


def test_a_pack_is_taken_in_with_all_that_its_diff_showed(root: Path, pack: Path) -> None:
    """Circuits too; and nothing else that lies in its folder."""
    layer = Layer("pack", "pack knob-lore", pack)
    shown = {(one.kind, one.section, one.id) for one in packs.differences(root, [], [layer])}
    assert shown == {("changed", "symptoms", "crackle"), ("added", "circuits", "our-own-amp")}
    kept = packs.take_in(pack, pack.parent / "packs")
    assert sorted(path.relative_to(kept).as_posix() for path in kept.rglob("*") if path.is_file()) == [
        "areas/knobs.yaml", "circuits/our-own-amp.yaml", "pack.yaml",
    ]  # fmt: skip
    inside = Layer("pack", "pack knob-lore", kept)
    assert list(packs.differences(root, [layer], [inside])) == []
    assert Circuits(root, [inside]).find("our-own-amp").circuit == Circuits(root, [layer]).find("our-own-amp").circuit


def test_where_a_file_stands_in_a_layer_is_part_of_its_fingerprint(root: Path, pack: Path) -> None:
    layer = Layer("pack", "pack knob-lore", pack)
    before = fingerprint(root, [layer])
    os.rename(pack / "circuits" / "our-own-amp.yaml", pack / "areas" / "our-own-amp.yaml")
    assert fingerprint(root, [layer]) != before


# --- what costs ---


def test_of_a_hundred_thousand_slips_a_hundred_are_told(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """And no more are looked into."""
    ours = tmp_path_factory.mktemp("ours") / "ours.yaml"
    count = nodes.MOST_NODES // 2 - 100
    ours.write_text("area: knobs\n" + "".join(f"k{number}: 1\n" for number in range(count)))
    with pytest.raises(KnowledgeError) as told:
        load.load(root, [Layer("shop", "shop", ours)])
    assert len(told.value.problems) == MOST_TOLD + 1
    assert any(f"{count - MOST_TOLD:,} more problems" in str(problem) for problem in told.value.problems)
    ours.write_text("area: knobs\n" + "".join(f"k{number}: 1\n" for number in range(nodes.MOST_NODES)))
    with pytest.raises(KnowledgeError, match="more than 100,000 values"):
        load.load(root, [Layer("shop", "shop", ours)])


def test_what_was_meant_is_looked_for_a_hundred_times_at_most(
    root: Path, tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    from chopstick.engine.knowledge import overlay

    asked = []
    monkeypatch.setattr(overlay, "did_you_mean", lambda word, _: asked.append(word) or "")
    ours = tmp_path_factory.mktemp("ours") / "ours.yaml"
    ours.write_text(f"area: knobs\nretire: {{causes: [{', '.join(f'gone-{n}' for n in range(5000))}]}}\n")
    with pytest.raises(KnowledgeError) as told:
        load.load(root, [Layer("shop", "shop", ours)])
    assert len(told.value.problems) == 5000
    assert len(asked) <= MOST_TOLD + 1


def test_changes_are_looked_through_once(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Not once for each entry: 24,000 added findings took seven minutes."""
    ours = tmp_path_factory.mktemp("ours") / "ours.yaml"
    ours.write_text("area: knobs\nfindings:\n" + "".join(f"  new-{n}: {{text: x}}\n" for n in range(300)))
    merged = load.merged(root, [Layer("shop", "shop", ours)], [])

    class Counted(list):  # type: ignore[type-arg]
        read = 0

        def __getitem__(self, at: object) -> object:
            found = super().__getitem__(at)  # type: ignore[call-overload]
            Counted.read += len(found) if isinstance(at, slice) else 1
            return found

        def __iter__(self) -> object:  # type: ignore[override]
            Counted.read += len(self)
            return super().__iter__()

    merged.changes = Counted(merged.changes)
    for number in range(300):
        assert [one.kind for one in merged.changed("findings", f"new-{number}")] == ["add"]
    assert Counted.read == 300


def test_every_module_that_reads_the_files_is_part_of_the_key_of_the_cache(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from chopstick.engine.reference import tables, text

    read: set[Path] = set()
    of_file = Path.read_bytes

    def noted(path: Path) -> bytes:
        read.add(path.resolve())
        return of_file(path)

    monkeypatch.setattr(Path, "read_bytes", noted)
    cache.key(root, (), "")
    assert {Path(str(module.__file__)).resolve() for module in (text, nodes, tables, load, cache)} <= read
