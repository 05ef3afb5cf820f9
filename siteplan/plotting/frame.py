"""A page in; the same with border and title block out.

Whose plan, which sheet of how many, scale, revision, date, which plan.json.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace

from siteplan import units
from siteplan.plotting.fonts import text_width, wrapped
from siteplan.plotting.paper_sizes import Box
from siteplan.plotting.shapes import Lettering, Mark, Page, Pen, rectangle, straight
from siteplan.sheets.wording import titled
from siteplan.values.whole_plan import Plan

_LAYER = "title_block"
_HEAD, _SAID = 2.2, 2.7  # size of a field's head and of what stands in it [mm]
_EDGE = Pen(width=0.6)
_THIN = Pen(width=0.2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What the title block of every sheet says the same."""

    site: str
    units: str  # of lengths and elevations
    plan_id: str  # first digits of the digest
    revision: str
    date: str


def plan_id(content: bytes) -> str:
    """What tells one plan from another: the first twelve digits of the SHA-256 of its plan.json.

    Parameters
    ----------
    content : bytes
        Of plan.json.

    Returns
    -------
    str
        Twelve digits.
    """
    return hashlib.sha256(content).hexdigest()[:12]


def heading_of(plan: Plan, identity: str, *, revision: str = "", date: str | None = None) -> Heading:
    """The title block's common part.

    Parameters
    ----------
    plan : Plan
        The plan.
    identity : str
        From `plan_id`.
    revision : str
        A mark of the revision; '' blank to fill.
    date : str, optional
        ISO; the plan's own where absent.

    Returns
    -------
    Heading
        For `framed`.
    """
    length, level = units.UNIT_NAMES[plan.length_unit], units.UNIT_NAMES[plan.elevation_unit]
    told = length if length == level else f"lengths {length}, elevations {level}"
    return Heading(site=titled(plan), units=told, plan_id=identity, revision=revision, date=date or plan.stamp or "")


def framed(page: Page, head: Heading, number: int, count: int) -> Page:
    """A page with its border and title block.

    Parameters
    ----------
    page : Page
        What stands inside the frame.
    head : Heading
        Of the whole set.
    number, count : int
        Sheet n of m.

    Returns
    -------
    Page
        To be printed.
    """
    block = page.paper.block
    shares = (0.34, 0.27, 0.21, 0.18)
    cuts = [block.left]
    for share in shares:
        cuts.append(cuts[-1] + share * block.wide)
    middle = (block.bottom + block.top) / 2
    shapes: list[Mark] = [
        rectangle(_LAYER, page.paper.frame, _EDGE),
        straight(_LAYER, (block.left, block.top), (block.right, block.top), _EDGE),
        *(straight(_LAYER, (cut, block.bottom), (cut, block.top), _THIN) for cut in cuts[1:-1]),
        straight(_LAYER, (cuts[1], middle), (block.right, middle), _THIN),
    ]
    whole = Box(left=cuts[0], bottom=block.bottom, right=cuts[1], top=block.top)
    shapes += _site_field(whole, head.site)
    upper = (("Sheet", page.title), ("Scale", page.scale or "not to scale"), ("Sheet no.", f"{number} of {count}"))
    lower = (
        ("Units", head.units),
        ("Revision and date", "  ".join(part for part in (head.revision, head.date) if part)),
        ("Plan", head.plan_id),
    )
    for fields, low, high in ((upper, middle, block.top), (lower, block.bottom, middle)):
        for (name, said), left, right in zip(fields, cuts[1:], cuts[2:], strict=False):
            shapes += _field(Box(left=left, bottom=low, right=right, top=high), name, said)
    return replace(page, shapes=(*page.shapes, *shapes))


def _field(box: Box, name: str, said: str) -> list[Mark]:
    room = box.wide - 2.4
    size = next((one for one in (_SAID, 2.4, 2.1) if text_width(said, one) <= room), 1.8)
    lines = wrapped(said, size, room)
    shown = lines[0] if len(lines) == 1 else f"{_fitted(said, size, room)}"
    return [
        Lettering(layer=_LAYER, text=name, x=box.left + 1.2, y=box.top - 2.6, size=_HEAD, color="#444444"),
        Lettering(layer=_LAYER, text=shown, x=box.left + 1.2, y=box.bottom + 1.9, size=size),
    ]


def _fitted(said: str, size: float, room: float) -> str:
    """As much of a text as there is room for; that it goes on is shown, the cover has it whole."""
    kept = said
    while kept and text_width(f"{kept}\u2026", size) > room:
        kept = kept[:-1]
    return f"{kept}\u2026"


def _site_field(box: Box, site: str) -> list[Mark]:
    room = box.wide - 2.4
    size = next(
        (one for one in (3.6, 3.2, 2.8, 2.4, 2.0) if len(wrapped(site, one, room, bold=True)) * one * 1.25 <= 10.0), 1.8
    )
    lines = wrapped(site, size, room, bold=True)
    most = max(1, int(10.0 / (size * 1.25)))
    if len(lines) > most:
        lines = [*lines[: most - 1], f"{lines[most - 1][:-2]}\u2026"]
    said: list[Mark] = [
        Lettering(layer=_LAYER, text="Plan set of", x=box.left + 1.2, y=box.top - 2.6, size=_HEAD, color="#444444")
    ]
    said += [
        Lettering(
            layer=_LAYER, text=text, x=box.left + 1.2, y=box.top - 4.0 - (k + 0.8) * size * 1.25, size=size, bold=True
        )
        for k, text in enumerate(lines)
    ]
    warning = "Not for construction until the blanks on the cover are signed."
    said.append(
        Lettering(
            layer=_LAYER,
            text=warning,
            x=box.left + 1.2,
            y=box.bottom + 1.6,
            size=next((one for one in (_HEAD, 2.0, 1.8, 1.6) if text_width(warning, one) <= room), 1.4),
            color="#444444",
        )
    )
    return said
