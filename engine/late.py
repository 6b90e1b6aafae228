"""Modules that are imported when they are first used, so that a prompt or a help page waits for nothing it needs not.

    with late():
        import numpy as np
        from .store import transfer

Such a module is found at once, so that a wrong name is an error at the start, and run at its first use. Name modules
in it, not what they hold: `from .transfer import backup` looks into the module, and so runs it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec
from importlib.util import LazyLoader
from types import ModuleType
from typing import Any


class _Late(MetaPathFinder):
    """Finds what the others find, to be run later."""

    def find_spec(self, name: str, path: Sequence[str] | None, target: ModuleType | None = None) -> ModuleSpec | None:
        for finder in sys.meta_path:
            if finder is not self and (spec := finder.find_spec(name, path, target)) is not None:
                if hasattr(spec.loader, "exec_module"):
                    spec.loader = LazyLoader(_Plain(spec.loader))
                return spec
        return None


class _Plain(Loader):
    """Runs a module as it would be run anywhere: what it imports itself is not put off, wherever its first use is."""

    def __init__(self, loader: Any) -> None:
        self._loader = loader

    def __getattr__(self, name: str) -> Any:
        return getattr(self._loader, name)

    def create_module(self, spec: ModuleSpec) -> ModuleType | None:
        made: ModuleType | None = self._loader.create_module(spec)
        return made

    def exec_module(self, module: ModuleType) -> None:
        putting_off = [finder for finder in sys.meta_path if isinstance(finder, _Late)]
        sys.meta_path[:] = [finder for finder in sys.meta_path if not isinstance(finder, _Late)]
        if module.__spec__ is not None:
            module.__spec__.loader = module.__loader__ = self._loader
        try:
            self._loader.exec_module(module)
        finally:
            sys.meta_path[:0] = putting_off


@contextmanager
def late() -> Iterator[None]:
    """What is imported inside is run at its first use."""
    finder = _Late()
    sys.meta_path.insert(0, finder)
    try:
        yield
    finally:
        sys.meta_path.remove(finder)
