"""Pure computation: no printing, no prompting."""
