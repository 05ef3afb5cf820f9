"""A line of a plan and the pipes of its size in.

What each would do on the same ground, side by side, as text or JSON out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from siteplan import units
from siteplan.bedding.belly import Forecast, pool_depth
from siteplan.books import soils
from siteplan.books.practice import POOL_LIMIT
from siteplan.books.stock import PipeStock
from siteplan.errors import InputError
from siteplan.trench.pipe_words import short
from siteplan.trench.under import forecasts
from siteplan.values.forecasts import SoftGround
from siteplan.values.lines import Line

TIE = 0.05 * units.INCH  # pools that differ by less are a tie
_CAUTION = (
    (
        "Depth is good to a factor of 2 to 3; which pipe does better is firmer. Planning aid: where it matters, "
        "a licensed engineer decides."
    ),
    "How it is computed, and which sayings of the trade hold: docs/bedding.md, docs/pipe-and-ground.md.",
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Side:
    """One kind of pipe on a line's ground, laid all the way."""

    stock: PipeStock
    forecast: Forecast
    own: bool  # the line's own kind
    limit: float  # depth of standing water that is flagged [m]
    best: bool  # within a tie of the shallowest pool at worst


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sides:
    """A line and every kind of its size on it, the plan's own first."""

    line: Line
    sides: tuple[Side, ...]
    unknown: tuple[PipeStock, ...] = ()  # kinds whose line cannot be solved: no figure is better than a wrong one


def wet_added(line: Line, start: float, end: float) -> Line:
    """A line with one more stretch of wet ground under it, to see what it would do there.

    Parameters
    ----------
    line : Line
        A line.
    start, end : float
        Stations [m].

    Returns
    -------
    Line
        The stretch dug clean at best and likely, with 6 in of churned soil under the pipe at worst.

    Raises
    ------
    InputError
        If the stretch does not lie on the line.
    """
    if not 0 <= start < end <= line.length:
        raise InputError("--wet", f"does not lie on {line.id}", "Give two stations that rise, from its outlet up.")
    wet, clean = soils.value_range("line_modulus", "wet_loose"), soils.settlement("clean")
    layer = 6 * units.INCH
    churned = soils.settlement("over_dumped", layer)
    tried = SoftGround(
        station_from=start,
        station_to=end,
        what="wet ground to try",
        modulus=(wet.low, wet.likely, wet.high),
        drop=(clean.low, clean.likely, max(clean.high, churned.high)),
        loose=layer,
    )
    return replace(line, soft=tuple(sorted((*line.soft, tried), key=lambda one: (one.station_from, one.station_to))))


def sides_of(line: Line, stocks: Sequence[PipeStock], unit: str = "ft", pool: float | None = POOL_LIMIT) -> Sides:
    """Every kind of a line's size on its ground.

    Parameters
    ----------
    line : Line
        With weak ground and ends, as plan.json states them.
    stocks : sequence of PipeStock
        The book of pipes, with the site's own.
    unit : str
        The plan's length unit, for what each says.
    pool : float or None
        Depth of standing water that the plan's rule flags [m]; None: not known.

    Returns
    -------
    Sides
        The line's own kind first, then by the worst pool, then by kind.

    Raises
    ------
    InputError
        If the book holds no pipe of its size, or no cover over it is known.
    """
    sized = [stock for stock in stocks if stock.pipe.nominal == line.pipe.nominal]
    if not sized:
        raise InputError(
            f"plan.json, line {line.id}",
            (
                f"is of {line.pipe.nominal}, and the book holds the strength of no pipe of that size, so no belly "
                "can be told"
            ),
            (
                "Give the pipe with its stiffness under [pipes.<label>] in site.toml (docs/pipe-and-ground.md), "
                "and plan again."
            ),
        )
    if not any(np.isfinite(row.cover) for row in line.rows):
        raise InputError(f"plan.json, line {line.id}", "states no cover anywhere", "Survey the ground along it.")
    told = forecasts(line, None, sized, unit, pool)
    best = min((forecast.depth.high for forecast in told.values()), default=0.0)
    found = [
        Side(
            stock=stock,
            forecast=told[stock.pipe.kind],
            own=stock.pipe.kind == line.pipe.kind,
            limit=pool_depth(stock, pool),
            best=told[stock.pipe.kind].depth.high <= best + TIE,
        )
        for stock in sized
        if stock.pipe.kind in told
    ]
    found.sort(key=lambda side: (not side.own, round(side.forecast.depth.high, 5), side.stock.pipe.kind))
    return Sides(line=line, sides=tuple(found), unknown=tuple(s for s in sized if s.pipe.kind not in told))


def depth_along(side: Side, guess: str) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """Standing water along the line after 50 years.

    Parameters
    ----------
    side : Side
        One kind.
    guess : str
        low, likely or high.

    Returns
    -------
    tuple of ndarray, shape (n,) [m]
        Stations and depths: water stands to the highest invert downstream.
    """
    case = side.forecast.case(guess, "long")
    return case.station, np.maximum.accumulate(case.invert) - case.invert


def sides_as_text(found: Sequence[Sides], unit: str) -> str:
    """The comparison as a table for each line.

    Parameters
    ----------
    found : sequence of Sides
        Lines in the plan's order.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        Lines of text.
    """
    out: list[str] = []
    for one in found:
        line = one.line
        out.append(
            f"{line.id}, {units.length_text(line.length, unit, 1)}, held {line.held[0]} at its lower end, "
            f"{line.held[1]} at its upper end"
        )
        if not line.soft:
            out += ["  No weak ground is known under it: every kind lies as it was laid. --wet FROM TO tries some.", ""]
            continue
        out += [f"  {_ground(ground, unit)}" for ground in line.soft]
        head = ("", "best", "likely", "worst", "bends to", "joint")
        rows = [_cells(side, unit) for side in one.sides]
        widths = [max(len(row[k]) for row in (head, *rows)) for k in range(len(head))]
        out += ["", f"  standing water after 50 years ({'mm' if unit == 'm' else 'in'})"]
        for row in (head, *rows):
            cells = [
                row[0].ljust(widths[0]),
                *(cell.rjust(width) for cell, width in zip(row[1:], widths[1:], strict=True)),
            ]
            out.append("  " + "  ".join(cells).rstrip())
        out += [f"  {short(side.stock.pipe)}: {flag}" for side in one.sides for flag in side.forecast.flags]
        out += [
            f"  {short(stock.pipe)}: not known, the sums for this line do not come out in balance"
            for stock in one.unknown
        ]
        winners = ", ".join(short(side.stock.pipe) for side in one.sides if side.best) or "not known"
        out += [f"  Shallowest at worst: {winners}.", ""]
    return "\n".join((*out, *_CAUTION))


def as_record(found: Sequence[Sides]) -> dict[str, Any]:
    """The comparison for programs.

    Parameters
    ----------
    found : sequence of Sides
        Lines in the plan's order.

    Returns
    -------
    dict
        Fit for JSON; lengths [m], angles in degrees.
    """
    return {
        "format": "siteplan-belly",
        "lines": [
            {
                "id": one.line.id,
                "length": round(one.line.length, 4),
                "held": list(one.line.held),
                "soft_ground": [
                    {
                        "station_from": round(g.station_from, 4),
                        "station_to": round(g.station_to, 4),
                        "what": g.what,
                        "certain": g.certain,
                    }
                    for g in one.line.soft
                ],
                "pipes": [_record(side) for side in one.sides],
                "not_known": [stock.pipe.kind for stock in one.unknown],
            }
            for one in found
        ],
        "cautions": list(_CAUTION),
    }


def _record(side: Side) -> dict[str, Any]:
    told, stock = side.forecast, side.stock
    return {
        "kind": stock.pipe.kind,
        "nominal": stock.pipe.nominal,
        "own": side.own,
        "shallowest": side.best,
        "depth": [round(value, 6) for value in told.depth],
        "pool_length": [round(value, 4) for value in told.pool_length],
        "limit": round(side.limit, 6),
        "stress_share": None if (share := stress_share(side)) is None else round(share, 4),
        "joint_turn_deg": round(told.turn, 3),
        "joint_turn_limit_deg": stock.joint_turn,
        "flags": list(told.flags),
    }


def stress_share(side: Side) -> float | None:
    """Bending stress over its limit.

    Parameters
    ----------
    side : Side
        One kind.

    Returns
    -------
    float or None
        Of the worst case [-]; None where no limit is known.
    """
    stress, limit = side.forecast.stress, side.stock.stress_limit
    return None if stress is None or not limit else stress / limit


def _ground(ground: SoftGround, unit: str) -> str:
    first, last = (units.station_text(at, unit) for at in (ground.station_from, ground.station_to))
    sinks = " / ".join(_small(value, unit) for value in ground.drop)
    return f"{ground.what}, {first} to {last}: bed sinks {sinks} (best / likely / worst)"


def _cells(side: Side, unit: str) -> tuple[str, ...]:
    told = side.forecast
    share = stress_share(side)
    limit = side.stock.joint_turn
    turned = "-" if told.turn < 0.05 else f"{told.turn:.1f}" + (f" of {limit:g} deg" if limit is not None else " deg")
    return (
        f"{'* ' if side.own else '  '}{short(side.stock.pipe)}",
        *(_small(depth, unit, bare=True) for depth in told.depth),
        "not known" if share is None else f"{100 * share:.0f} %",
        turned,
    )


def _small(length: float, unit: str, *, bare: bool = False) -> str:
    text = f"{length / units.MILLIMETRE:.0f}" if unit == "m" else f"{length / units.INCH:.2f}"
    return text if bare else f"{text} {'mm' if unit == 'm' else 'in'}"
