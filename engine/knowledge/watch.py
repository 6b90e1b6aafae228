"""Knowledge that is edited while a job is on the bench: loaded anew when its files change, and refused if broken."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from ..late import late
from ..reference.errors import KnowledgeError, Problem
from .base import KnowledgeBase
from .folder import files, shipped
from .layers import MANIFEST, Layer

with late():
    from . import load as knowledge_load

_Stamp = tuple[tuple[str, int, int], ...]


@dataclass(frozen=True)
class Reloaded:
    """What a change came to: the new base; or, with the problems it was refused for, the old one."""

    base: KnowledgeBase
    problems: tuple[Problem, ...] = ()


class Watch:
    """Says whether the files behind a knowledge base have changed since it was last asked.

    layers: finds the layers as they are now, so that a folder that comes into being is noticed. load: how a base is
    made of them (default: `load.load`).
    """

    def __init__(
        self,
        base: KnowledgeBase,
        root: Path | None = None,
        layers: Callable[[], Sequence[Layer]] = tuple,
        load: Callable[[Path | None, Sequence[Layer]], KnowledgeBase] | None = None,
    ) -> None:
        self.base = base
        self._root = root or shipped()
        self._layers = layers
        self._load = load or _load
        self._seen = self._stamp()

    def look(self) -> Reloaded | None:
        """None while nothing has changed. A broken file changes nothing but for its problems, told once per change."""
        seen = self._stamp()
        if seen == self._seen:
            return None
        self._seen = seen
        try:
            base = self._load(self._root, self._layers())
        except KnowledgeError as error:
            return Reloaded(self.base, error.problems)
        except OSError:  # a file went away while it was read: the next look will tell
            self._seen = ()
            return None
        if base.fingerprint == self.base.fingerprint:
            return None
        self.base = base
        return Reloaded(base)

    def _stamp(self) -> _Stamp:
        """Name, time and size of every file, which costs no reading."""
        paths = [*files(self._root)]
        try:
            for layer in self._layers():
                paths += [layer.path / MANIFEST, *layer.path.glob("areas/*.yaml")]
                paths += layer.path.glob("circuits/*.yaml")
                paths += [layer.path] if layer.path.is_file() else []
        except KnowledgeError:
            return ()
        stamps = []
        for path in sorted(paths):
            try:
                status = path.stat()
            except OSError:
                continue
            stamps.append((str(path), status.st_mtime_ns, status.st_size))
        return tuple(stamps)


def _load(root: Path | None, layers: Sequence[Layer]) -> KnowledgeBase:
    return knowledge_load.load(root, layers)
