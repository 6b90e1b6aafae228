"""What can be wrong with a knowledge file; the problems of every YAML file here are of one kind."""

from ..reference.errors import KnowledgeError, Problem, Where, did_you_mean

__all__ = ["KnowledgeError", "Problem", "Where", "did_you_mean"]
