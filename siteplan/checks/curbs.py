"""Lines that end at curbs in; findings on the hole there.

The concrete round it, the line that must pass it, the flow it takes.

What would make a hole do is worked out in one place, so that no two findings ask for opposite things of it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from siteplan import units
from siteplan.books import rules
from siteplan.books.practice import NEXT_SIZE_DOWN, SAME_SIZE
from siteplan.checks.curb_ends import (
    CUT_IN,
    ByLine,
    Hole,
    curb_comes_to,
    curb_ends,
    flattest_of,
    hole_of,
    lift_of,
    room_at,
    through_curb,
)
from siteplan.checks.curb_sharing import hole_each, through_same_holes
from siteplan.checks.flows import brought_by, lines_at
from siteplan.checks.pipe_flow import full_flow_anew
from siteplan.checks.report import Measure, plain, ruled
from siteplan.checks.scene import Scene, Words
from siteplan.checks.verdict import answer
from siteplan.values.lines import Line
from siteplan.values.told import Finding
from siteplan.values.water_ends import Outlet

CONCRETE = Measure(Words.small, "m", slack=1e-6)


def would_do(scene: Scene, line: Line, outlet: Outlet, by_line: ByLine) -> str:
    """What would make the holes of an outlet do.

    The size that the curb takes, and how many of it for all that comes there.

    Parameters
    ----------
    scene : Scene
        For the survey.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.

    Returns
    -------
    str
        One sentence's end.
    """
    words, hole, room = scene.words, hole_of(scene, line, outlet), room_at(scene, line, outlet)
    ends = lines_at(scene, outlet)
    flow, (grade, rough) = brought_by(by_line, ends), flattest_of(scene, ends, by_line)
    if room is not None and room.largest is None:
        return "no pipe of the book leaves that concrete in this face: take another outlet"
    pipe = curb_comes_to(line)
    through = through_curb(line)
    one, inside = words.size(through), hole.inside
    if room is not None and room.largest is not None and pipe.od > room.outside:
        one, inside = (
            f"{words.size(room.largest)} {room.largest.title}",
            room.largest.bore,
        )
    elif _narrower(inside, pipe.bore):
        one, inside = words.size(pipe), pipe.bore
    takes = "" if room is None else f"this face takes {words.small(room.outside)} outside at most: "
    if flow is None or grade <= 0:
        return f"{takes}{one} through it"
    passes = full_flow_anew(inside, grade, rough)
    count = max(1, math.ceil(flow / passes - 1e-9))
    if count == len(ends) > 1 and any((by_line[end.id][0].flow or 0.0) > passes for end in ends):
        count += 1  # as many holes as lines are one each, and one of them does not do with one
    if count == 1 and room is not None and NEXT_SIZE_DOWN * pipe.bore <= inside and _narrower(inside, pipe.bore):
        return (
            f"{takes}one hole of {one} behind a flat-bottom reducer passes {words.flow(passes)}, "
            f"{words.flow(flow)} comes; "
            f"or a thinner-walled {words.size(pipe)} sleeve of that outside, where the city's detail has one"
        )
    asked = "give curb_height to know whether it takes them" if room is None else ""
    many = f"{count} holes of {one} pass the {words.flow(flow)} (holes = {count}, with hole_spacing)"
    text = f"one hole of {one} passes the {words.flow(flow)}" if count == 1 else many
    return f"{takes}{text}{'; ' + asked if asked else ''}"


def _narrower(inside: float, bore: float) -> bool:
    """Whether a hole is a size smaller than a pipe, and not the same size by another wall."""
    return inside < bore * (1 - SAME_SIZE)


def _concrete_left(scene: Scene, line: Line, outlet: Outlet) -> tuple[float, float] | None:
    """Concrete over the hole and its doubt [m]; None where face or ground is not known."""
    told, lift = scene.site.told_of(outlet), lift_of(scene, line, outlet, through_curb(line))
    if "curb_height" not in told or not math.isfinite(lift):
        return None
    left = float(told["curb_height"]) - hole_of(scene, line, outlet).outside - lift
    return left, float(told.get("curb_height_doubt", 0.0))


def _too_thin(scene: Scene, line: Line, outlet: Outlet) -> bool:
    left, rule = _concrete_left(scene, line, outlet), rules.CURB_CONCRETE
    if left is None:
        return False
    return answer(left[0], scene.limit(rule), rule.sense, doubt=left[1], slack=CONCRETE.slack) == "broken"


def _one_size_down(scene: Scene, line: Line, outlet: Outlet) -> bool:
    """Whether the face takes no pipe of the line's own size, and what goes through it is the size below."""
    hole, room, pipe = hole_of(scene, line, outlet), room_at(scene, line, outlet), curb_comes_to(line)
    return hole.inside >= NEXT_SIZE_DOWN * pipe.bore and room is not None and pipe.od > room.outside


def _lodges(scene: Scene, line: Line, outlet: Outlet) -> bool:
    """Whether what passes the line lodges in the one hole at its end, which need not be so small."""
    hole, pipe = hole_of(scene, line, outlet), curb_comes_to(line)
    if _in_one_box(through_same_holes(scene, line, outlet)):
        return False
    return hole.number == 1 and _narrower(hole.inside, pipe.bore) and not _one_size_down(scene, line, outlet)


def _in_one_box(together: Sequence[Line]) -> bool:
    """Whether several lines all say that they come into a box at the curb.

    Out of which as many pipes lead for each of them.
    """
    pieces = [one.curb_piece for one in together]
    told = {(one.fitting, one.number) for one in pieces if one is not None}
    return len(pieces) > 1 and None not in pieces and len(told) == 1 and {fitting for fitting, _ in told} == {"box"}


def cure_place(scene: Scene, outlet: Outlet) -> tuple[str, str] | None:
    """Where what would make an outlet's holes do is said, so that it is said once.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    outlet : Outlet
        A curb outlet.

    Returns
    -------
    tuple of str and str, or None
        Rule and line of the first finding that asks for it: the concrete, then the size. None: neither does.
    """
    for rule, asks in ((rules.CURB_CONCRETE, _too_thin), (rules.CURB_HOLE, _lodges)):
        first = next((line.id for line in lines_at(scene, outlet) if asks(scene, line, outlet)), None)
        if first is not None:
            return rule.id, first
    return None


def cure_or_where(
    scene: Scene, place: tuple[str, str], line: Line, outlet: Outlet, by_line: ByLine, told: tuple[str, str]
) -> str:
    """What would do, in the finding that says it; in others the way to that one.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    place : tuple of str and str
        Rule and line of this finding.
    line : Line
        The line that ends there.
    outlet : Outlet
        The curb outlet.
    by_line : mapping of str to list of FlowPiece
        From `pieces_of`.
    told : tuple of str and str
        Rule and line of the finding that says it.

    Returns
    -------
    str
        One sentence's end.
    """
    return (
        would_do(scene, line, outlet, by_line) if place == told else f"what would do is said under {told[0]}, {told[1]}"
    )


def curb_concrete(scene: Scene) -> list[Finding]:
    """Concrete left over holes through curbs.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a curb outlet; 'cannot tell' where the height of the face is not known.

    References
    ----------
    Geometry: curb height less the hole and less its bottom's height over the gutter.
    """
    rule, found = rules.CURB_CONCRETE, []
    for name, line, outlet, by_line in curb_ends(scene):
        told, title = scene.site.told_of(outlet), outlet.name or outlet.id
        where, hole = scene.words.station(0.0), hole_of(scene, line, outlet)
        lift = lift_of(scene, line, outlet, through_curb(line))
        if not math.isfinite(lift):
            found.append(plain(rule, name, "cannot tell", f"the ground at {title} is not known", where=where))
            continue
        if lift < -CUT_IN:
            found.append(_cut_in(scene, name, title, lift))
        if "curb_height" not in told:
            text = (
                f"the curb's face at {title} is not known: give curb_height, or shoot its top and flow line "
                f"there; the hole is {scene.words.small(hole.outside)} high"
            )
            found.append(plain(rule, name, "cannot tell", text, where=where))
            continue
        left, doubt = _concrete_left(scene, line, outlet) or (math.nan, 0.0)
        here = (rule.id, name)
        cure = cure_or_where(scene, here, line, outlet, by_line, cure_place(scene, outlet) or here)
        found.append(
            ruled(
                scene,
                rule,
                name,
                left,
                measure=CONCRETE,
                said=f"concrete over the hole at {title}",
                limit=scene.limit(rule),
                doubt=doubt,
                where=where,
                more=_sentence(cure),
            )
        )
    return found


def _cut_in(scene: Scene, name: str, title: str, lift: float) -> Finding:
    """A hole whose bottom lies under the gutter's flow line.

    No concrete under it, and the gutter's water stands in it.
    """
    words, doubt = scene.words, scene.site.accuracy
    text = (
        f"the hole at {title} is cut {words.small(-lift)} below the flow line of the gutter: it cuts into the "
        "gutter's concrete, and the gutter's water and grit stand in it"
    )
    unsure = -lift <= 2 * doubt
    if unsure:
        text += f"; the ground is known to {words.small(doubt)}: shoot the flow line there"
    return plain(
        rules.CURB_CONCRETE,
        f"{name}:flow line",
        "broken",
        text,
        where=words.station(0.0),
        value=lift,
        broken="flag" if unsure else "fail",
    )


def curb_hole(scene: Scene) -> list[Finding]:
    """Whether the line that comes to a curb goes through it in its own size.

    Also whether several holes leave concrete between.

    Parameters
    ----------
    scene : Scene
        What every check looks at.

    Returns
    -------
    list of Finding
        One for each line that ends at a curb outlet.

    References
    ----------
    Common practice, no source: what passes a line lodges in a smaller hole.
    """
    rule, words, found = rules.CURB_HOLE, scene.words, []
    for name, line, outlet, by_line in curb_ends(scene):
        hole, pipe = hole_of(scene, line, outlet), curb_comes_to(line)
        title, where = outlet.name or outlet.id, words.station(0.0)
        size = words.size(pipe)
        together = through_same_holes(scene, line, outlet)
        boxed = _in_one_box(together)
        if hole.number == 1 and boxed and together[0] is line:  # said once for them all
            text = (
                f"{_listed(together)} come into one box that can be opened at {title}, and one hole "
                f"{words.small(hole.inside)} inside leads from it"
            )
            found.append(plain(rule, f"{name}:one hole", "kept", text, where=where))
        elif hole.number == 1 and len(together) > 1 and together[0] is line:
            text = (
                f"{_listed(together)} come to one hole {words.small(hole.inside)} inside at {title}: join "
                "them in a box or wye that can be "
                f"opened, or give a hole to each (holes = {len(together)}, with hole_spacing)"
            )
            found.append(plain(rule, f"{name}:one hole", "broken", text, where=where, broken="flag"))
        if _lodges(scene, line, outlet):
            here = (rule.id, name)
            cure = cure_or_where(scene, here, line, outlet, by_line, cure_place(scene, outlet) or here)
            text = (
                f"{units.with_article(size)} line comes to a hole {words.small(hole.inside)} inside at {title}: "
                f"what passes the line lodges there; {cure}"
            )
            found.append(plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore))
        elif hole.number == 1 and boxed:
            pass  # what does not pass the hole stays in the box
        elif hole.number == 1 and _narrower(hole.inside, pipe.bore):
            room = room_at(scene, line, outlet)
            takes = "" if room is None else words.small(room.outside)
            # the face takes no pipe of the line's own size: one trade size down is what is drilled, and said once
            text = (
                f"{units.with_article(size)} line goes through the curb at {title} by a flat-bottom reducer "
                f"and a hole {words.small(hole.inside)} inside, "
                f"for the face takes {takes} outside at most: put a cleanout above it, what passes the line "
                "lodges there"
            )
            found.append(
                plain(rule, name, "broken", text, where=where, value=hole.inside, limit=pipe.bore, broken="flag")
            )
        elif hole.number == 1:
            found.append(
                plain(rule, name, "kept", f"the line goes through the curb at {title} in its own size", where=where)
            )
        several = len(lines_at(scene, outlet)) if hole_each(scene, outlet) else hole.number
        if several > 1:
            found.append(_between(scene, name, outlet, hole, several))
    return found


def _between(scene: Scene, name: str, outlet: Outlet, hole: Hole, several: int) -> Finding:
    """Whether several holes of an outlet leave concrete between them."""
    rule, words, told = rules.CURB_HOLE, scene.words, scene.site.told_of(outlet)
    where, title = words.station(0.0), outlet.name or outlet.id
    subject = name if hole.number > 1 else f"{name}:beside"
    what = "from a box or wyes that can be opened" if hole.number > 1 else "one for each line"
    split = f"{several} holes {words.small(hole.inside)} inside at {title}, {what}"
    if "hole_spacing" not in told:
        text = f"{split}; their spacing is not known: give hole_spacing, from centre to centre"
        return plain(rule, subject, "cannot tell", text, where=where)
    return ruled(
        scene,
        rule,
        subject,
        float(told["hole_spacing"]) - hole.outside,
        measure=CONCRETE,
        said=f"{split}: concrete between them",
        limit=scene.limit(rule),
        where=where,
        broken="flag",
    )


def _listed(lines: Sequence[Line]) -> str:
    *most, last = [line.id for line in lines]
    return f"{', '.join(most)} and {last}"


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
