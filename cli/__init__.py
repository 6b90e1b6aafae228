"""The terminal: commands, prompts and views."""

VERSION = "0.1.0"  # as pyproject.toml has it; reading it from the installed package takes longer than all else
