"""Plants an error: one piece of a function's text replaced, for as long as it is wanted, whoever imported the function."""

from __future__ import annotations
import __future__

import inspect
import textwrap
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cached_property
from types import FunctionType
from typing import Any


@contextmanager
def planted(where: Any, old: str, new: str) -> Iterator[None]:
    """The function with `old`, which stands in it once, replaced by `new`. Raises ValueError where it does not."""
    function = plain(where)
    right = function.__code__
    function.__code__ = _changed(function, old, new).__code__
    try:
        yield
    finally:
        function.__code__ = right


def plain(where: Any) -> FunctionType:
    """The function behind a method, a property or a cached one."""
    found = where.fget if isinstance(where, property) else where.func if isinstance(where, cached_property) else where
    found = getattr(found, "__func__", found)
    assert isinstance(found, FunctionType)
    return found


def _changed(function: FunctionType, old: str, new: str) -> Callable[..., Any]:
    text = textwrap.dedent(inspect.getsource(function))
    if text.count(old) != 1:
        raise ValueError(f"{function.__qualname__} has {text.count(old)} times: {old}")
    text = text[text.index("def ") :] if text.startswith("@") else text
    flags = __future__.annotations.compiler_flag
    made: dict[str, Any] = {}
    exec(compile(text.replace(old, new), function.__code__.co_filename, "exec", flags), function.__globals__, made)
    changed: Callable[..., Any] = made[function.__name__]
    return changed
