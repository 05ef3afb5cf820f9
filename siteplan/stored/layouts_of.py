"""Records of plan.json in; the layouts set beside a plan, what was tried in vain and what was asked, out."""

from __future__ import annotations

from siteplan.stored.record_of import ANY, PLACE, PlanRecord
from siteplan.values.asked_for import ChoicesAsked
from siteplan.values.other_layouts import (
    LAYOUT_AIMS,
    LEFT_OUT,
    Aim,
    Layout,
    LayoutEnd,
    LayoutLeft,
    LayoutLine,
    LayoutPlace,
)


def layout(one: PlanRecord) -> Layout:
    """One layout.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    Layout
        Title and what it wins by are not kept: sheets make them again.
    """
    lines = tuple(_line(each) for each in one.records("lines"))
    if not lines:
        raise one.fault("lines", "holds no line")
    return Layout(
        number=one.whole("number"),
        chosen=one.yes("chosen", other=False),
        aim=_aim(one.inside("aim")),
        cost=one.number("cost", ANY),
        length=one.number("length"),
        deepest_cut=one.maybe("deepest_cut"),
        over_ladder=one.number("over_ladder"),
        over_protection=one.number("over_protection"),
        pavement=one.number("pavement"),
        spare=one.number("spare"),
        chance=one.maybe("chance"),
        bellies=one.whole("bellies"),
        flags=one.whole("flags"),
        fails=one.whole("fails"),
        sure=one.texts("sure"),
        ends=tuple(
            LayoutEnd(
                id=end.text("id"),
                name=end.text("name"),
                x=end.number("x", PLACE),
                y=end.number("y", PLACE),
                found=end.yes("found", other=False),
            )
            for end in one.records("ends")
        ),
        lines=lines,
    )


def _line(one: PlanRecord) -> LayoutLine:
    vertices = tuple(
        LayoutPlace(
            x=at.number("x", PLACE),
            y=at.number("y", PLACE),
            station=at.number("station"),
            invert=at.number("invert"),
        )
        for at in one.records("vertices")
    )
    if len(vertices) < 2:
        raise one.fault("vertices", "are fewer than two")
    return LayoutLine(
        id=one.text("id"),
        sources=one.texts("sources"),
        start=one.text("from"),
        end=one.text("to"),
        nominal=one.text("nominal"),
        vertices=vertices,
        spare=one.number("spare"),
        chance=one.maybe("chance"),
        deepest_cut=one.maybe("deepest_cut"),
    )


def _aim(one: PlanRecord) -> Aim:
    what = one.word("what", LAYOUT_AIMS)
    percent = one.maybe("grade_percent", ANY)
    return Aim(
        what=LAYOUT_AIMS[LAYOUT_AIMS.index(what)],
        outlet=one.text_or("outlet"),
        grade=None if percent is None else percent / 100,
    )


def layout_left(one: PlanRecord) -> LayoutLeft:
    """A layout that was tried in vain.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    LayoutLeft
        Its sentence is made again.
    """
    why = one.word("why", LEFT_OUT)
    return LayoutLeft(
        aim=_aim(one.inside("aim")),
        why=LEFT_OUT[LEFT_OUT.index(why)],
        like=None if one.get("like") is None else one.whole("like"),
        source=one.text_or("source"),
    )


def choices_asked(one: PlanRecord) -> ChoicesAsked:
    """What was asked of layouts.

    Parameters
    ----------
    one : PlanRecord
        Of plan.json.

    Returns
    -------
    ChoicesAsked
        As it stands.
    """
    return ChoicesAsked(
        choose=None if one.get("choose") is None else one.whole("choose"),
        count=one.whole("count"),
        front=one.yes("front", other=False),
    )
