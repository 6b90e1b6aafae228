"""The terminal: commands, prompts and views."""
