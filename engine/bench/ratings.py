"""What the sheets allow the tube fitted: one place where calculations ask for a rating."""

from __future__ import annotations

from dataclasses import dataclass

from ..reference.errors import UnknownName
from ..reference.tables import load


@dataclass(frozen=True)
class Allowed:
    """A limit, the words that say where it is from, and the bibliography's id for it."""

    value: float
    why: str
    source: str
    warning: str = ""


def allowed(tube: str, key: str, given: float | None = None, system: str = "") -> Allowed:
    """The limit `key` (``plate_W`` ...) of a tube type, or the one given by hand, which wins.

    Raises ValueError when neither a tube nor a figure is given, or the files give no such limit.
    """
    if given is not None:
        return Allowed(given, "rating as given", "common-practice")
    if not tube:
        raise ValueError(f"say which tube is fitted, or give its {key.replace('_', ' ')} rating")
    try:
        chosen = load().limit(tube, key, system or None)
    except UnknownName as error:
        raise ValueError(str(error)) from error
    block = chosen.rating
    warning = "" if block.seen else f"the rating is from memory ({load().source(block.source).title}): confirm it"
    return Allowed(chosen.value, chosen.why, block.source, warning)


def screen_share(tube: str) -> tuple[float, str, str]:
    """Screen current over plate current on the sheet of a tube type: ratio, where it stands, source id.

    With no tube the trade's 5 to 10 percent is halved. Raises ValueError for a tube with no screen on file.
    """
    if not tube:
        window = load().window("screen_share_of_plate_current_percent")
        share = (window.floor + window.ceiling) / 2 / 100
        return share, "common practice, 5 to 10 percent", window.source
    try:
        family = load().tube(tube)
    except UnknownName as error:
        raise ValueError(str(error)) from error
    points = sorted(
        (point for point in family.operating_points if point.plate_mA and point.screen_mA), key=lambda p: not p.seen
    )
    if not points or not points[0].plate_mA or not points[0].screen_mA:
        raise ValueError(f"no screen current of a {family.name} is on file; measure it, or give screen_mA")
    point = points[0]
    where = f"{family.name} sheet, {point.screen_mA:g} mA of screen to {point.plate_mA:g} mA of plate current"
    return float(point.screen_mA or 0) / float(point.plate_mA or 1), where, point.source
