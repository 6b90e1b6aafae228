"""The documented JSON of every command."""
