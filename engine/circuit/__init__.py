"""Tube models, operating points and the fault dictionary."""
