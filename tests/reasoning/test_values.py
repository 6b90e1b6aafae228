"""What a standing is made of can't be changed behind anybody's back: a job read once may be shown in many places."""

import importlib
import pkgutil
from dataclasses import is_dataclass

import chopstick.engine.reasoning as room
import pytest

MODULES = sorted(one.name for one in pkgutil.iter_modules(room.__path__))


def values_of(name: str) -> list[type]:
    module = importlib.import_module(f"{room.__name__}.{name}")
    ours = [one for one in vars(module).values() if isinstance(one, type) and one.__module__ == module.__name__]
    fields_only = [one for one in ours if "__annotations__" in vars(one) and not hasattr(one, "model_fields")]
    return [one for one in fields_only if not (is_own(one) or vars(one).get("_is_protocol") or is_service(one))]


def is_own(one: type) -> bool:
    """Whether a class is its module's own book, which nobody else sees."""
    return one.__name__.startswith("_")


def is_service(one: type) -> bool:
    """Whether a class is made by an __init__ of its own: it does something, and is no value."""
    return not is_dataclass(one) and "__init__" in vars(one)


def test_the_whole_room_is_looked_at() -> None:
    assert sum(len(values_of(name)) for name in MODULES) > 40


@pytest.mark.parametrize("name", MODULES)
def test_every_value_is_frozen_and_compared_by_what_it_says(name: str) -> None:
    for value in values_of(name):
        assert is_dataclass(value), f"{value.__name__} has fields and is no dataclass"
        assert value.__dataclass_params__.frozen, f"{value.__name__} can be changed"
        assert value.__dataclass_params__.eq, f"{value.__name__} is not compared by what it says"
