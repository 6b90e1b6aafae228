"""Sums of money in words."""

from __future__ import annotations


def money(amount: float | None, currency: str) -> str:
    """A sum with its currency's code; '' for none."""
    return "" if amount is None else f"{amount:,.2f} {currency}".strip()
