"""A sitting at the bench: what is asked, typed, confirmed and steered."""
