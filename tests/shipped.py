"""The shipped knowledge base, read and checked once in a process. It is frozen, so that tests can share it."""

from functools import cache

from chopstick.engine.knowledge import load
from chopstick.engine.knowledge.base import KnowledgeBase


@cache
def shipped_knowledge() -> KnowledgeBase:
    return load.load()
