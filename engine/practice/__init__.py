"""Amps to practise on: what they would show, and how well somebody did."""
