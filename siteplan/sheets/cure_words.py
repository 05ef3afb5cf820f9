"""What would serve a source that no line serves, in; the sentences that sheets print of it, and its record, out."""

from __future__ import annotations

import math
from typing import Any

from siteplan import units
from siteplan.books.kinds import pumped
from siteplan.sheets.wording import volume_or_unknown
from siteplan.values.tried import CURE_FIGURES, Attempt, AttemptPlace, Cure
from siteplan.values.whole_plan import Plan

LEAST_LIFT = 0.02  # m; less is no figure to choose a pump by


def cure_text(cure: Cure, plan: Plan, attempt: Attempt) -> str:
    """One change that serves a source, in one sentence.

    Parameters
    ----------
    cure : Cure
        Laid out and found to serve.
    plan : Plan
        For units, and what stands at the source.
    attempt : Attempt
        The source and outlet it belongs to.

    Returns
    -------
    str
        With the figure that was laid out, and the line that it then gave.
    """
    if cure.fails:
        return (
            f"{_told(cure, plan, attempt)} The plan then FAILS {', '.join(cure.fails)}: no cure until that is mended."
        )
    return _told(cure, plan, attempt)


def _told(cure: Cure, plan: Plan, attempt: Attempt) -> str:
    unit = plan.length_unit
    if cure.kind == "lift":
        return _lift_text(cure, plan, attempt)
    left = "" if cure.spare is None else f", {units.spare_text(cure.spare, unit)}"
    deepest = "" if cure.cut is None else f", deepest cut {units.length_text(cure.cut, unit)}"
    return (
        f"{_change_text(cure, plan)}. Laid out so: {units.length_text(cure.length or 0.0, unit, 1)} of "
        f"line{left}{deepest}."
    )


def _change_text(cure: Cure, plan: Plan) -> str:
    unit, high = plan.length_unit, plan.elevation_unit
    if cure.kind == "outlet-zone":
        long, now = units.length_text(cure.amount, unit, 1), units.length_text(cure.held, unit, 1)
        return (
            f"Heavy pipe with the outlet zone's cover over the last {long} before the outlet instead of {now} "
            "(rule outlet-zone)"
        )
    if cure.kind == "min-cover":
        return (
            f"{units.small_text(cure.amount, unit)} of cover along the line instead of "
            f"{units.small_text(cure.held, unit)}, in heavy pipe "
            "(rule min-cover, a default from common practice: where code, frost and wheels allow)"
        )
    if cure.kind == "outlet-invert":
        new, old = units.length_text(cure.amount, high), units.length_text(cure.held, high)
        return f"The outlet's invert at {new} instead of {old}, {units.small_text(cure.held - cure.amount, unit)} lower"
    if cure.kind == "pop-up":
        return (
            f"A pop-up on the lawn, its rim {units.small_text(cure.amount, unit)} under the ground at the "
            "source, the line's invert under it "
            f"{units.length_text(cure.invert or 0.0, high)} (its foot holds water: a weep hole in gravel, and "
            "it can freeze)"
        )
    if cure.kind == "fill":
        stations = " to ".join(units.station_text(at or 0.0, unit) for at in (cure.station_from, cure.station_to))
        return (
            f"Up to {units.small_text(cure.amount, unit)} of fill along the line at station {stations}, "
            f"{units.length_text(cure.width or 0.0, unit, 1)} to each side, "
            f"{volume_or_unknown(cure.volume or 0.0, unit)} in all; not against the house"
        )
    return (
        f"A trench with the invert up to {units.length_text(cure.amount, unit)} deep instead of "
        f"{units.length_text(cure.held, unit)} "
        "(rule max-depth): protected against caving in before anybody enters it, by a competent person"
    )


def _lift_text(cure: Cure, plan: Plan, attempt: Attempt) -> str:
    unit = plan.length_unit
    kinds = {one.id: one.kind for one in plan.sources}
    pump = "Its own pump" if pumped(kinds.get(attempt.source, "")) else "A basin and a pump at the source"
    lift = (
        f"{units.small_text(cure.amount, unit)} of lift over the start of a gravity line, and"
        if cure.amount >= LEAST_LIFT
        else "no lift to speak of, only"
    )
    long = units.length_text(cure.length or 0.0, unit, 0)
    if cure.head is None or cure.flow is None:
        return (
            f"{pump}, under pressure all the way to the outlet, {long}: {lift} "
            "what the pipe's friction takes. The way is open; the pressure line itself is not laid out here."
        )
    figures = f"{units.flow_text(cure.flow, unit)} at {units.length_text(cure.head, unit, 1)} of head"
    brings = f"it brings {figures}" if cure.own_pump else f"one that gives {figures} serves"
    return (
        f"{pump}, under pressure all the way to the outlet, {long}: {brings}, the depth of its pit counted "
        "(off_level; a guess where none is given). "
        "Laid out so; write discharge, the outlet's name, at a sump to have it in the plan."
    )


def cures_text(plan: Plan, attempt: Attempt | None) -> tuple[str, ...]:
    """What to print under an outlet that a source was tried on.

    Parameters
    ----------
    plan : Plan
        For units and names.
    attempt : Attempt or None
        With its cures, in order.

    Returns
    -------
    tuple of str
        A sentence each; one that says so where nothing was tried or nothing helped.
    """
    if attempt is None:
        return ()
    if not attempt.tried:
        return ("No change was tried for this outlet, to keep the plan quick.",)
    if not attempt.cures:
        return ("No single change of zone, cover, outlet, ground or depth that practice bears gave a line.",)
    return tuple(f"{number}. {cure_text(cure, plan, attempt)}" for number, cure in enumerate(attempt.cures, start=1))


def attempt_of(plan: Plan, source: str, outlet: str) -> Attempt | None:
    """What was tried for a source on an outlet.

    Parameters
    ----------
    plan : Plan
        The plan.
    source, outlet : str
        Ids.

    Returns
    -------
    Attempt or None
        None for a source that a line serves.
    """
    return next((one for one in plan.attempts if one.source == source and one.outlet == outlet), None)


def nearest_misses(plan: Plan) -> tuple[Attempt, ...]:
    """The attempts that are drawn: of each source without a line the nearest miss.

    Parameters
    ----------
    plan : Plan
        The plan.

    Returns
    -------
    tuple of Attempt
        Those with a way.
    """
    served = {key for line in plan.every_line for key in line.sources}
    first: dict[str, Attempt] = {}
    for one in plan.attempts:
        if one.source not in served and one.line:
            first.setdefault(one.source, one)
    return tuple(first.values())


def worst_of(attempt: Attempt) -> AttemptPlace | None:
    """Where the line of an attempt lies too high by most.

    Parameters
    ----------
    attempt : Attempt
        Of the plan.

    Returns
    -------
    AttemptPlace or None
        None where no way is drawn.
    """
    return max(attempt.line, key=lambda at: (at.short, -at.station), default=None)


def miss_text(plan: Plan, attempt: Attempt) -> str:
    """What the best line tried is, and where it is not legal.

    Parameters
    ----------
    plan : Plan
        For units.
    attempt : Attempt
        With its line.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    worst, unit = worst_of(attempt), plan.length_unit
    if worst is None:
        return "no way to it is open that a line could be drawn along"
    long = units.length_text(attempt.line[-1].station, unit, 1)
    if worst.short <= 0:
        return f"NOT LEGAL, drawn dashed: {long}; its fall is enough and something else bars it"
    return (
        f"NOT LEGAL, drawn dashed: {long} as flat as the rules let it be, up from the lowest invert of the "
        "outlet; at station "
        f"{units.station_text(worst.station, unit)} it lies {units.small_text(worst.short, unit)} higher than "
        "the cover or the start allows"
    )


def attempt_record(plan: Plan, attempt: Attempt) -> dict[str, Any]:
    """An attempt for plan.json.

    Parameters
    ----------
    plan : Plan
        For units and names.
    attempt : Attempt
        Of the plan.

    Returns
    -------
    dict
        Metres and cubic metres.
    """
    return {
        "source": attempt.source,
        "outlet": attempt.outlet,
        "line": _line_record(attempt),
        "short_by": _fine(attempt.short_by),
        "station": _fine(attempt.station),
        "tried": attempt.tried,
        "cures": [_cure(cure, plan, attempt) for cure in attempt.cures],
    }


def _line_record(attempt: Attempt) -> dict[str, Any] | None:
    if not attempt.line:
        return None
    return {
        "legal": False,
        "length": _fine(attempt.line[-1].station),
        "stations": [
            {
                "station": _fine(at.station),
                "x": _fine(at.x),
                "y": _fine(at.y),
                "ground": _fine(at.ground) if math.isfinite(at.ground) else None,
                "invert": _fine(at.invert),
                "short": _fine(at.short),
            }
            for at in attempt.line
        ],
    }


def _cure(cure: Cure, plan: Plan, attempt: Attempt) -> dict[str, Any]:
    return {
        "what": cure_text(cure, plan, attempt),
        "proven": not cure.fails and (cure.kind != "lift" or cure.head is not None),
        "fails": list(cure.fails),
        "kind": cure.kind,
        "amount": _fine(cure.amount),
        "held": _fine(cure.held),
        "unit": "m",
        **{key: _fine(getattr(cure, key)) for key in CURE_FIGURES},
        "flow_lps": None if cure.flow is None else _fine(cure.flow / units.LITRE),
        "head": _fine(cure.head),
        "own_pump": cure.own_pump,
        "way": [{"x": _fine(x), "y": _fine(y), "ground": _fine(z)} for x, y, z in cure.way],
    }


def _fine(value: float | None) -> float | None:
    return None if value is None else round(value, 6) + 0.0
