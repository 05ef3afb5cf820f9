"""Records of plan.json in; lines of one's own, the planner's beside them and what mends them, out."""

from __future__ import annotations

from typing import get_args

from siteplan.stored.record_of import ANY, PLACE, PlanRecord
from siteplan.values.own_drawn import (
    CHANGES,
    OwnChange,
    OwnDrawn,
    OwnInverts,
    OwnLines,
    OwnMend,
    OwnMended,
    OwnMode,
    PlannersOwn,
)

_MODES: tuple[OwnMode, ...] = get_args(OwnMode)
_INVERTS: tuple[OwnInverts, ...] = get_args(OwnInverts)


def own_lines_of(one: PlanRecord) -> OwnLines:
    """Drawn lines that end at one outlet together.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    OwnLines
        The words are not kept: sheets make them again.
    """
    return OwnLines(
        drawn=tuple(_drawn(each) for each in one.records("drawn")),
        cost=one.maybe("cost", ANY),
        length=one.maybe("length"),
        planner=one.some("planner", _planner),
        fails=one.texts("fails"),
        mends=tuple(_mend(each) for each in one.records("mends")),
    )


def _drawn(one: PlanRecord) -> OwnDrawn:
    mode, inverts = one.word("mode", _MODES), one.word("inverts", _INVERTS)
    return OwnDrawn(
        line=one.text_maybe("line"),
        name=one.text_or("name"),
        source=one.text("source"),
        outlet=one.text("outlet"),
        mode=_MODES[_MODES.index(mode)],
        inverts=_INVERTS[_INVERTS.index(inverts)],
        meets=one.text_maybe("meets"),
        off=one.maybe("off"),
    )


def _planner(one: PlanRecord) -> PlannersOwn:
    outlets = one.get("outlets")
    listed = outlets if isinstance(outlets, list) else []
    return PlannersOwn(
        cost=one.number("cost", ANY),
        length=one.number("length"),
        spare=one.number("spare"),
        outlets=tuple(end if isinstance(end, str) else None for end in listed),
        lines=one.whole("lines"),
    )


def _mend(one: PlanRecord) -> OwnMend:
    return OwnMend(
        changes=tuple(
            OwnChange(
                kind=CHANGES[CHANGES.index(each.word("kind", CHANGES))],
                line=each.text("line"),
                amount=each.maybe("amount"),
            )
            for each in one.records("changes")
        ),
        lines=tuple(_mended(each) for each in one.records("lines")),
        cost=one.number("cost", ANY),
        left=one.texts("left"),
    )


def _mended(one: PlanRecord) -> OwnMended:
    pipe = one.inside("pipe")
    return OwnMended(
        line=one.text("line"),
        pipe=pipe.text("kind"),
        nominal=pipe.text("nominal"),
        vertices=tuple(
            (v.number("x", PLACE), v.number("y", PLACE), v.number("invert")) for v in one.records("vertices")
        ),
    )
