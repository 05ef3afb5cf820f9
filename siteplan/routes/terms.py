"""The rules in force and the pipe in; what they ask of a line out, as plain numbers for the kernels."""

from __future__ import annotations

from typing import NamedTuple

from siteplan.books import rules
from siteplan.books.pipes import heavy
from siteplan.books.rules import RuleBook
from siteplan.values.laid_pipe import Pipe

_LEAST_GRADE = 1e-4  # a line falls continuously even where a site sets no minimum


class Terms(NamedTuple):
    """What a line must keep. Metres and ratios."""

    grade: float  # least fall over length
    grade_max: float | None  # steeper wants a drop fitting; priced and flagged, no search rule
    drop: float | None  # steeper is no line at all
    rise: float  # outside top above the invert
    below: float  # trench bottom below the invert
    cover: float
    cover_pavement: float  # under vehicles, over the line's own pipe
    depth: float  # greatest depth of the invert
    zone: float  # length at the outlet with less cover
    zone_cover: float
    stretch: float  # length at the outlet where pipe may show
    start_zone: float
    daylight_allowance: float
    half_trench: float
    wall_clearance: float  # from foundations
    retaining: float  # from retaining walls
    steep: float | None  # ground steeper than this may be a wall's face
    apart: float  # clear height between lines that cross
    ladder: float  # trench depth above which digging costs more
    heavier: float = 0.0  # how much higher the top of heavy pipe stands, which may lie in place of the line's own
    rules_grade: float | None = (
        None  # the rules' own least grade where what a pipe carries asks for more; None: `grade`
    )


def terms(book: RuleBook, pipe: Pipe) -> Terms:
    """What the rules in force and the pipe ask of a line.

    Parameters
    ----------
    book : RuleBook
        The rules in force.
    pipe : Pipe
        The pipe to be laid.

    Returns
    -------
    Terms
        Lengths [m], grades [-]; covers are over the line's own pipe, and such that the heavy pipe that may lie in its
        place keeps what is asked of it: its top is a little higher. A pavement cover that is not known falls back on
        the lawn's cover; where heavy pipe is allowed less cover than other pipe, it is laid there and its limit holds.
    """
    cover = rules.needed(book, rules.MIN_COVER)
    zone = rules.needed(book, rules.OUTLET_ZONE)
    pavement, relieved = rules.pavement_covers(book)
    stronger = heavy(pipe)
    more = 0.0 if stronger is None else max(0.0, stronger.rise - pipe.rise)
    zone_cover = rules.needed(book, rules.OUTLET_ZONE_COVER)
    if zone_cover < cover:
        # where the zone has less cover than lawn, heavy pipe lies in it
        zone_cover = min(zone_cover + more, cover)
    if relieved is not None and stronger is not None:
        # heavy pipe lies under vehicles wherever its limit is the lesser
        pavement = relieved + more
    steepest = rules.limit(book, rules.MAX_GRADE)
    drop = rules.limit(book, rules.DROP_GRADE)
    ladder = rules.limit(book, rules.TRENCH_LADDER)
    depth = rules.needed(book, rules.MAX_DEPTH)
    grade = max(_LEAST_GRADE, rules.needed(book, rules.MIN_GRADE))
    return Terms(
        grade=grade,
        # below the least grade it asks for what cannot be: the least grade goes first, the check tells
        grade_max=None if steepest is None or steepest < grade else steepest,
        drop=None if drop is None else max(drop, grade),
        rise=pipe.rise,
        below=pipe.below + rules.needed(book, rules.BEDDING),
        cover=cover,
        cover_pavement=cover if pavement is None else max(cover, pavement),
        depth=depth,
        zone=zone,
        zone_cover=zone_cover,
        stretch=min(zone, rules.needed(book, rules.DAYLIGHT_STRETCH)),
        start_zone=rules.needed(book, rules.START_ZONE),
        daylight_allowance=rules.needed(book, rules.DAYLIGHT_ALLOWANCE),
        half_trench=rules.needed(book, rules.TRENCH_WIDTH) / 2,
        wall_clearance=rules.needed(book, rules.CLEAR_OF_BUILDING),
        retaining=rules.limit(book, rules.WALL_CROSSED) or 0.0,
        steep=rules.limit(book, rules.STEEP_GROUND),
        apart=rules.limit(book, rules.LINES_CROSS) or 0.0,
        ladder=depth if ladder is None else ladder,
        heavier=more,
    )


def for_length(asked: Terms, length: float) -> Terms:
    """Terms of a line whose whole length is known: at most half of a short one may show.

    Parameters
    ----------
    asked : Terms
        What the rules ask.
    length : float
        From the source to the outlet [m].

    Returns
    -------
    Terms
        With the daylight stretch cut to half the length where that is less: common practice, no source. A pipe that
        lies on top of the ground from the wall on is no buried line.
    """
    return asked if asked.stretch <= length / 2 else asked._replace(stretch=length / 2)
