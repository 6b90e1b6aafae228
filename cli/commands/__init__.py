"""The commands, each a module of its own."""
