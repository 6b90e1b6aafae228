"""How a question at the bench can end without an answer."""


class Stopped(Exception):
    """The technician stopped. Everything entered is kept."""


class Changed(Exception):
    """The log was added to from within a question (back, another check, a repair): read it again."""
