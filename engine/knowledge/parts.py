"""The parts that repairs and causes name: found by any of their names, with what they inherit, and what they cost.

A part is named by its id, its name or one of its other names; a plural s, capitals and hyphens do not matter, and "one
or other" names both. What a part's entry does not say, the kind it belongs to says. A price holds for a part and for
all kinds of it; where several hold, the closest one goes: first by kind, then one for its value, then one for its
rating (the lowest that is enough).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cached_property

from ..late import late
from . import model
from .part_model import PartKind, StandIn

with late():
    from ..bench import notation

UNITS = ("F", "ohm", "H", "V", "W", "A")  # of what a part's value or rating may be a figure


class PartsList:
    """The entries of kb/parts, and the prices."""

    def __init__(self, kinds: Mapping[str, PartKind], prices: Mapping[str, model.Price]) -> None:
        self.kinds, self._prices = kinds, prices

    @cached_property
    def _by_name(self) -> Mapping[str, PartKind]:
        found: dict[str, PartKind] = {}
        for kind in self.kinds.values():
            for name in names(kind):
                found.setdefault(name, kind)
        return found

    def named(self, name: str) -> PartKind | None:
        """The part of that id or name; None when there is none."""
        return self.kinds.get(name) or self._by_name.get(plain(name))

    def meant(self, named: Iterable[str]) -> tuple[PartKind, ...]:
        """The parts meant by names, of which each may name several; what nobody knows is left out."""
        found: dict[str, PartKind] = {}
        for name in named:
            whole = self.named(name)
            one_by_one = [whole] if whole else self._several(name)
            if None not in one_by_one:
                found.update({one.id: one for one in one_by_one if one})
        return tuple(found.values())

    def _several(self, name: str) -> list[PartKind | None]:
        """The parts of "one or other"; the last word may stand for all of them, as in "film or mica capacitor"."""
        last = name.split()[-1]
        return [self.named(one) or self.named(f"{one} {last}") for one in re.split(r",? or |, ", name)]

    def of(self, part: model.Part) -> tuple[PartKind, ...]:
        """The parts that a repair's part means, with those that a marking in its rating makes of it."""
        marked = set(re.findall(r"\w+", part.rating or ""))
        also = (kind for kind in self.kinds.values() if marked & set(kind.marks))
        return tuple({one.id: one for one in (*self.meant(part.part), *also)}.values())

    def lineage(self, kind: PartKind) -> tuple[PartKind, ...]:
        """The part, the kind it belongs to, the kind that belongs to, and so on."""
        found = {kind.id: kind}
        above = self.kinds.get(kind.kind_of or "")
        while above is not None and above.id not in found:
            found[above.id] = above
            above = self.kinds.get(above.kind_of or "")
        return tuple(found.values())

    def circular(self, kind: PartKind) -> bool:
        """Whether the kinds it belongs to lead back to one of them."""
        above = self.kinds.get(self.lineage(kind)[-1].kind_of or "")
        return above is not None

    def faults(self, kind: PartKind) -> Mapping[str, tuple[str, ...]]:
        """How it fails, with the other words for each fault; its own come first."""
        found: dict[str, tuple[str, ...]] = {}
        for one in self.lineage(kind):
            for fault, also in one.faults.items():
                found[fault] = (*found.get(fault, ()), *also)
        return found

    def fault(self, kinds: Iterable[PartKind], word: str) -> str | None:
        """The fault that a word stands for, of any of the parts; None when none of them fails so."""
        for kind in kinds:
            for fault, also in self.faults(kind).items():
                if word in (fault, *also):
                    return fault
        return None

    def roles(self, named: Iterable[str]) -> tuple[str, ...]:
        """What circuit files call the parts, all kinds of them included; what is no part's name stands for itself."""
        found: list[str] = []
        for name in named:
            meant = self.meant((name,))
            found += [role for kind in meant for role in self._roles_below[kind.id]] if meant else [name]
        return tuple(dict.fromkeys(found))

    @cached_property
    def _roles_below(self) -> Mapping[str, list[str]]:
        """For each part, its roles and those of all kinds of it."""
        found: dict[str, list[str]] = {id_: [] for id_ in self.kinds}
        for kind in self.kinds.values():
            for one in self.lineage(kind) if kind.roles else ():
                found[one.id] += kind.roles
        return found

    def stand_in(self, kind: PartKind) -> StandIn | None:
        return next((one.stand_in for one in self.lineage(kind) if one.stand_in is not None), None)

    def fitted(self, kinds: Iterable[PartKind]) -> str:
        """The amp fact that says which type of it is fitted; '' when none does."""
        return next((one.fitted for kind in kinds for one in self.lineage(kind) if one.fitted), "")

    def words(self, part: model.Part) -> str:
        """What a repair's part is called: 'film capacitor or control', 'power tube, matched'."""
        called = " or ".join(self.words_of(name) for name in part.part)
        return ", ".join(filter(None, (called, part.which)))

    def words_of(self, name: str) -> str:
        kind = self.named(name)
        return name if kind is None or plain(name) != plain(kind.id) else kind.name

    def price_of(self, part: model.Part) -> model.Price | None:
        """What one of a part costs: by the price it names, else by the closest that holds. Of several parts named each
        must have one, and the dearest counts, since nobody knows yet which it will be. None when there is no price."""
        if part.price is not None:
            return self._prices.get(part.price)
        kinds = self.meant(part.part)
        if len(kinds) > 1:
            for either, price in self._for_either:
                if either == {kind.id for kind in kinds} and _holds(price, part):
                    return price
        closest = [self._closest(part, kind) for kind in kinds] or [self._closest(part, None)]
        priced = [one for one in closest if one is not None]
        return max(priced, key=lambda one: one.each) if len(priced) == len(closest) else None

    def prices(self, kind: PartKind) -> tuple[model.Price, ...]:
        """The prices that hold for a part, even if only for some values or ratings: its own, else those of its kind."""
        for one in self.lineage(kind):
            if own := tuple(price for of, price in self._for_part if of == one.id):
                return own
        return ()

    def _closest(self, part: model.Part, kind: PartKind | None) -> model.Price | None:
        lineage = [one.id for one in self.lineage(kind)] if kind else [plain(one) for one in part.part]
        held = [
            (lineage.index(of), not price.value, price.rating is None, _figure(price.rating) or 0.0, price.id)
            for of, price in self._for_part
            if of in lineage and _holds(price, part)
        ]
        return self._prices[min(held)[-1]] if held else None

    @cached_property
    def _for_part(self) -> tuple[tuple[str, model.Price], ...]:
        """Each price for a part, with the part's id, or its name where it has no entry."""
        found = []
        for price in self._prices.values():
            meant = self.meant((price.part,)) if price.part else ()
            if price.part and len(meant) < 2:
                found.append((meant[0].id if meant else plain(price.part), price))
        return tuple(found)

    @cached_property
    def _for_either(self) -> tuple[tuple[set[str], model.Price], ...]:
        """Each price for "one or other": it holds where a repair takes just these alternatives."""
        priced = [
            ({kind.id for kind in self.meant((price.part,))}, price) for price in self._prices.values() if price.part
        ]
        return tuple((either, price) for either, price in priced if len(either) > 1)


def names(kind: PartKind) -> Iterator[str]:
    """Every name of a part, as it is looked up."""
    yield from dict.fromkeys(plain(one) for one in (kind.id, kind.name, *kind.also))


def plain(name: str) -> str:
    """A name as it is looked up: capitals, hyphens and a plural s do not matter."""
    words = re.split(r"[\s-]+", name.strip().casefold())
    last = words[-1]
    return " ".join([*words[:-1], last[:-1] if last.endswith("s") and not last.endswith("ss") else last])


def stands(part: model.Part) -> str | None:
    """The least a part must withstand, as a figure: as it says, or its rating where that is nothing but a figure."""
    return part.stands or (part.rating if _figure(part.rating) is not None else None)


def _holds(price: model.Price, part: model.Part) -> bool:
    if price.value:
        low, high, value = _figure(price.value[0]), _figure(price.value[-1]), _figure(part.value)
        if low is None or high is None or value is None:
            if plain(price.value[0]) != plain(part.value or ""):
                return False
        elif not low * (1 - 1e-9) <= value <= high * (1 + 1e-9):
            return False
    if price.rating is None:
        return True
    needed, enough = _figure(stands(part)), _figure(price.rating)
    return needed is not None and enough is not None and needed <= enough * (1 + 1e-9)


def _figure(text: str | None) -> float | None:
    """A figure in trade notation, in whatever unit; None for words."""
    for unit in UNITS if text else ():
        try:
            return notation.parse(text or "", unit).value
        except notation.NotationError:
            continue
    return None
