"""A plan and today's height of instrument in; what the rod must read at every station, and the offset stakes, out.

Figures are rounded once from the unrounded ones; what a crew can check with a pencil agrees with what is printed: cut
is ground minus trench bottom and target rod is HI minus elevation, as shown. Feet and inches come from the unrounded
figure.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.books.practice import ROD_REACH
from siteplan.errors import InputError
from siteplan.sheets.caution_words import cautions_in
from siteplan.sheets.rod_levels import printed, rod_levels, under_invert
from siteplan.sheets.stakes import Stake as Spot
from siteplan.sheets.stakes import pipe_words, pipes_along, pipes_words
from siteplan.sheets.stakes import stakes as stakes_of
from siteplan.sheets.states import State, line_state
from siteplan.sheets.wording import names, titled, way
from siteplan.survey.files import said
from siteplan.survey.set_up import Reached, rod_reached
from siteplan.values.lines import Line
from siteplan.values.whole_plan import Plan

To = Literal["INV", "TRENCH"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutTarget:
    """One station of the sheet. Lengths [m], rounded where `printed` says so; None where the ground is not known."""

    station: float
    x: float
    y: float
    note: str
    ground: float | None
    invert: float
    top: float
    bottom: float
    cover: float | None
    cut: float | None
    cut_exact: float | None
    rod_bottom: float
    rod_bottom_exact: float
    rod_top: float
    rod_top_exact: float
    reach: Reached  # '' in reach


@dataclass(frozen=True, slots=True, kw_only=True)
class CutStake:
    """An offset stake: what is written on it. `cut` below 0 is a fill."""

    line: str
    station: float
    side: str  # left | right, looking up the stations
    distance: float
    x: float
    y: float
    hub: float | None
    cut: float | None
    to: To
    target: float  # elevation of what the cut is to


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSheet:
    """One line's rows, in the order in which stations run on the sheet."""

    line: str
    way: str
    state: State
    stands: str  # the state in words, with what makes it so and the chance
    pipe: str
    length: float
    from_start: bool
    targets: tuple[CutTarget, ...]
    stakes: tuple[CutStake, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutSheet:
    """The day's sheet."""

    site: str
    hi: float
    hi_text: str
    unit: str
    elevation_unit: str
    below: str  # wall and bedding under the invert, as text
    lines: tuple[LineSheet, ...]
    stamp: str | None
    benchmark: str = ""  # what the height of instrument hangs on
    language: Language = "english"
    cautions: tuple[str, ...] = ()


def cut_sheet(
    plan: Plan,
    hi: float,
    *,
    hi_text: str = "",
    stamp: str | None = None,
    stakes: Sequence[tuple[str, float, str, float, float | None]] = (),
    offset: tuple[str, float] | None = None,
    to: To = "INV",
    from_start: bool = False,
    only: str | None = None,
    language: Language = "english",
) -> CutSheet:
    """The sheet for one height of instrument.

    Parameters
    ----------
    plan : Plan
        The plan.
    hi : float
        Height of instrument [m].
    hi_text : str
        How it was found.
    stamp : str, optional
        Date to print; that of the plan when absent.
    stakes : sequence of (line, station, side, distance, hub)
        Offset stakes with their hubs' elevation [m].
    offset : (side, distance), optional
        Stakes at every station, hubs still to be shot [m].
    to : str
        What cuts on stakes are to: 'INV' or 'TRENCH'.
    from_start : bool
        Stations counted from the line's start instead of its outlet.
    only : str, optional
        One line.
    language : str
        Of its words: 'english' or 'spanish'.

    Returns
    -------
    CutSheet
        Lines in the plan's order.

    Raises
    ------
    InputError
        For a line or a station that the plan has not.
    """
    if plan.elevation_unit != plan.length_unit:  # the sheet is in the tape's unit; the mark was given in the other
        surveyed = f"HI {units.length_text(hi, plan.elevation_unit)}"
        hi_text = f"{hi_text}, {surveyed}" if hi_text else surveyed
    called = names(plan)
    lines = [line for line in plan.every_line if only in {None, line.id}]
    if not lines:
        what = "the plan holds no line" if only is None else f"the plan has no line {said(only)!r}"
        raise InputError(
            "--line" if only else "PLAN", what, f"Lines: {', '.join(line.id for line in plan.every_line) or 'none'}."
        )
    sheets = []
    for line in lines:
        own = [stake for stake in stakes if stake[0] in {line.id, ""}]
        if stakes and any(stake[0] == "" for stake in stakes) and len(lines) > 1:
            raise InputError(
                "--stake",
                "names no line, and the plan has several",
                "Write LINE:STATION, such as L1:0+30, or give --line.",
            )
        made = [
            _stake(line, station, side, distance, hub, to, plan, from_start=from_start)
            for _, station, side, distance, hub in own
        ]
        if offset is not None:
            made += [
                _stake(line, spot.row.station, offset[0], offset[1], None, to, plan, from_start=False)
                for spot in stakes_of(plan, line, language)
            ]
        targets = [_target(line, stake, hi, plan) for stake in stakes_of(plan, line, language)]
        if from_start:
            targets = [_turned(target, line.length) for target in reversed(targets)]
            made = [_turned_stake(stake, line.length) for stake in made]
        sheets.append(
            LineSheet(
                line=line.id,
                way=way(line, called, language),
                state=line_state(plan, line).state,
                stands=line_state(plan, line).text_in(language),
                pipe=pipes_words(line, plan.length_unit, language),
                length=line.length,
                from_start=from_start,
                targets=tuple(targets),
                stakes=tuple(made),
            )
        )
    for name in {stake[0] for stake in stakes} - {line.id for line in lines} - {""}:
        raise InputError(
            "--stake", f"the plan has no line {said(name)!r}", f"Lines: {', '.join(line.id for line in lines)}."
        )
    return CutSheet(
        site=titled(plan),
        hi=hi,
        hi_text=hi_text,
        unit=plan.length_unit,
        elevation_unit=plan.length_unit,
        below=_below(lines, plan, language),
        lines=tuple(sheets),
        stamp=stamp or plan.stamp,
        benchmark=hi_text,
        language=language,
        cautions=cautions_in(plan, language),
    )


def _below(lines: Sequence[Line], plan: Plan, language: Language) -> str:
    """What lies between invert and trench bottom: the wall of each pipe that lies there, and the bedding under it."""
    unit = plan.length_unit
    told: dict[str, None] = {}  # an ordered set
    for line in lines:
        for first, last, pipe in pipes_along(line):
            called, wall = pipe_words(pipe, unit, language), units.length_text(pipe.below, unit, 3)
            own = [row for row in line.rows if first <= row.station <= last and line.pipe_at(row.station) == pipe]
            beds = {
                units.length_text(under_invert(line, row) - pipe.below, unit): None
                for row in own
                if math.isfinite(row.cut)
            }
            for bed in beds:
                told[phrase("cut.wall", language, wall=wall, pipe=called, bed=bed)] = None
            if not beds:
                told[phrase("cut.wall_only", language, wall=wall, pipe=called)] = None
    return phrase("cut.below", language, layers=phrase("cut.or", language).join(told))


def _target(line: Line, stake: Spot, hi: float, plan: Plan) -> CutTarget:
    unit, row = plan.length_unit, stake.row  # one unit all over the sheet: that of the tape
    top, bottom = rod_levels(line, row)
    if not math.isfinite(bottom):
        raise InputError(
            f"plan.json, {line.id}",
            "no station knows its ground, so the trench bottom is not known",
            "Shoot the ground and plan again.",
        )
    low, crown = printed(bottom, unit), printed(top, unit)
    ground = printed(row.ground, unit) if math.isfinite(row.ground) else None
    cover = None if ground is None else row.ground - top
    if ground is not None and unit == "m":
        cover = ground - crown  # in millimetres it is the schedule's, as a pencil finds it from what is printed
    rod, rod_top = printed(hi, unit) - low, printed(hi, unit) - crown
    return CutTarget(
        station=row.station,
        x=row.x,
        y=row.y,
        note=stake.text,
        ground=ground,
        invert=printed(row.invert, unit),
        top=crown,
        bottom=low,
        cover=cover,
        cut=None if ground is None else ground - low,
        cut_exact=None if ground is None else row.ground - bottom,
        rod_bottom=rod,
        rod_bottom_exact=hi - bottom,
        rod_top=rod_top,
        rod_top_exact=hi - top,
        reach=rod_reached(rod, rod_top),
    )


def _turned(target: CutTarget, length: float) -> CutTarget:
    return replace(target, station=max(0.0, length - target.station))


def _turned_stake(stake: CutStake, length: float) -> CutStake:
    return replace(stake, station=max(0.0, length - stake.station))


def _stake(
    line: Line, station: float, side: str, distance: float, hub: float | None, to: To, plan: Plan, *, from_start: bool
) -> CutStake:
    if from_start:
        station = line.length - station
    if not -0.01 <= station <= line.length + 0.01:  # m
        raise InputError(
            "--stake",
            f"station {units.station_text(max(station, 0.0), plan.length_unit)} is not on {line.id}",
            f"It runs from 0 to {units.station_text(line.length, plan.length_unit)}.",
        )
    at = np.array([vertex.station for vertex in line.vertices])
    x, y, invert = line.at(station)
    nearest = min(line.rows, key=lambda row: abs(row.station - station))
    if hub is not None and abs(hub - invert) > ROD_REACH:
        found, off, low = (units.length_text(value, plan.elevation_unit) for value in (hub, abs(hub - invert), invert))
        raise InputError(
            "--stake",
            f"hub {found} lies {off} {'above' if hub > invert else 'below'} the invert of {line.id} at "
            f"{units.station_text(station, plan.length_unit)} ({low})",
            "Is it another datum or unit? Correct it.",
        )
    target = invert if to == "INV" else invert - under_invert(line, nearest)
    i = int(np.clip(np.searchsorted(at, station, side="right") - 1, 0, len(at) - 2))
    a, b = line.vertices[i], line.vertices[i + 1]
    run = math.hypot(b.x - a.x, b.y - a.y) or 1.0
    left = (-(b.y - a.y) / run, (b.x - a.x) / run)  # looking up the stations
    way_out = distance if side == "left" else -distance
    return CutStake(
        line=line.id,
        station=station,
        side=side,
        distance=distance,
        x=x + left[0] * way_out,
        y=y + left[1] * way_out,
        hub=hub,
        cut=None if hub is None else hub - target,
        to=to,
        target=target,
    )
