"""Modules that are imported late: found at once, run at their first use, and whole when they are."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from chopstick.engine.late import late


@pytest.fixture
def tubs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A package of modules that write down when they are run."""
    folder = tmp_path / "tubs"
    folder.mkdir()
    (folder / "__init__.py").write_text("ran = []\n")
    (folder / "inner.py").write_text("from . import ran\nran.append('inner')\nVALUE = 7\n")
    (folder / "outer.py").write_text("from . import ran\nfrom .inner import VALUE\nran.append('outer')\n")
    monkeypatch.syspath_prepend(tmp_path)
    yield folder
    for name in [name for name in sys.modules if name.partition(".")[0] == "tubs"]:
        del sys.modules[name]


def test_it_is_run_at_its_first_use_and_what_it_imports_with_it(tubs: Path) -> None:
    with late():
        from tubs import outer
    import tubs as package

    assert package.ran == []
    assert outer.VALUE == 7
    assert package.ran == ["inner", "outer"]


def test_a_use_inside_the_block_runs_it_whole_too(tubs: Path) -> None:
    with late():
        from tubs.outer import VALUE
    assert VALUE == 7
    assert type(sys.modules["tubs.inner"]).__name__ == "module"


def test_a_module_that_is_not_there_is_an_error_at_once(tubs: Path) -> None:
    with pytest.raises(ImportError), late():
        import tubs.lid  # noqa: F401
    assert not [finder for finder in sys.meta_path if type(finder).__name__ == "_Late"]
