"""What a review had at hand in; which of a plan's figures it worked out again, by what, and which not at all, out."""

from __future__ import annotations

from dataclasses import dataclass

_INDEPENDENT = (
    "stations, inverts, grounds, cuts, covers and grades of vertices and schedule rows, turns at vertices",
    (
        "stretches and covers under pavement, stretches in low spots; utilities crossed: place, name, service, "
        "depth, digging by hand"
    ),
    "bedding under wheels and in wet low spots; a worst pool that is too small",
    (
        "sources and outlets against the survey; flow of a roof, a sump, an area drain, an inlet whose area is "
        "given; control elevations"
    ),
    "flow, capacity, depth and velocity of each run; that the storm test loses no water",
    "depth, area and volume of the low spots listed; sizes and walls of pipe against the book",
    "every rule's verdict, value and limit",
)
_PLANNERS = (
    (
        "where low spots are; the ground that drains to an inlet; water levels, tail-water, blocked outlets and "
        "where water goes; the storm test"
    ),
    "doubts, chances and shots wanted",
)
_MADE = (
    (
        "fittings, notes, cleanouts and rows of the schedule; pipe by reach, its name, source, wall and "
        "roughness, couplings, sleeves"
    ),
    (
        "names of what is crossed but utilities; what decides a line, its cost, why a pipe was taken, what a "
        "reach is called"
    ),
    (
        "soft ground, forecasts of standing water, notes of the ground; candidates, costs, assumptions; "
        "quantities but pipe and digging"
    ),
    "ways tried and what would help, sizes that were barred, parts that could not be made",
    (
        "other layouts: their ways, costs, flags, fails and what they drain for sure; that no layout is missing "
        "from the table"
    ),
)
_TRUST = (
    "that the site folder is what the surveyor delivered: digests tell only that plan and site belong together",
    (
        "a site that was changed before it was planned gives a plan that agrees with it: compare its files with "
        "the surveyor's own"
    ),
    "that limits which the site sets for itself are allowed there",
    "the date on the sheets",
)
_NO_SITE = "everything that needs ground, features or rules, and the map but for its profiles: no site was given"
_ARITHMETIC = (
    "stations, inverts, lengths, grades, covers and cuts against one another; the schedule and the map's "
    "profiles against plan.json"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrustStanding:
    """Three lists of plain words.

    What was worked out again by other arithmetic, by the planner's own code, and not at all.
    """

    independent: tuple[str, ...]
    planner: tuple[str, ...]
    trust: tuple[str, ...]


def standing(*, judged: bool, made: bool, aside: tuple[str, ...]) -> TrustStanding:
    """What stands behind a review.

    Parameters
    ----------
    judged : bool
        Whether the site was at hand.
    made : bool
        Whether the plan was made again.
    aside : tuple of str
        Lines that do not go the planner's own way.

    Returns
    -------
    Standing
        What was not worked out again is never left out.
    """
    if not judged:
        return TrustStanding(independent=(_ARITHMETIC,), planner=(), trust=(_NO_SITE, *_PLANNERS, *_MADE, *_TRUST))
    if not made:
        return TrustStanding(independent=_INDEPENDENT, planner=_PLANNERS, trust=(*_MADE, *_TRUST))
    left = tuple(f"of {', '.join(aside)}: {words}" for words in _MADE) if aside else ()
    return TrustStanding(independent=_INDEPENDENT, planner=(*_PLANNERS, *_MADE), trust=(*left, *_TRUST))
