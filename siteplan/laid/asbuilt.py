"""What was to be built and what was shot in; the verdict before backfill out.

Accept, mend the paper, re-dig, or cannot tell.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from siteplan import units
from siteplan.books.practice import DATUM_SEEN, FIXED_AGREE, MISCLOSED, OFF_GRADE, STICK
from siteplan.laid.design import Design, DesignLine, Item
from siteplan.laid.fit import LaidFit, fit_laid
from siteplan.laid.judged import Findings, judge_datum, judge_line, judge_outlet, judge_placing, judge_set_up
from siteplan.laid.laid_shots import LaidShot
from siteplan.laid.placing import Placed, place
from siteplan.laid.sorted_shots import OnPipe, sort_shots
from siteplan.laid.verdict_values import (
    About,
    AsBuilt,
    LaidLine,
    Reason,
    Verdict,
)
from siteplan.laid.water_in import bellies, pairs, pieces, smallest_shown
from siteplan.survey.set_up import SetUp

Floats = NDArray[np.float64]
_SLACK = 0.5 * units.FOOT  # of a stretch paced between shots
_MOST = 0.75  # share of a line's shots; a belly may hold the rest; judgement, no source
_ALIKE = 0.05 * units.FOOT


def check_as_laid(
    design: Design,
    shots: Sequence[LaidShot],
    set_up: SetUp,
    *,
    on: str | None = None,
    bell_rise: float | None = None,
    doubt: float | None = None,
    only: str | None = None,
    stick: float = STICK,
) -> AsBuilt:
    """Check what was laid against what was to be laid.

    Parameters
    ----------
    design : Design
        What was to be built.
    shots : sequence of Shot
        As read.
    set_up : SetUp
        Where their heights come from.
    on : str, optional
        What rods stood on where a row does not say it: 'top', 'invert', 'bottom' or 'bell'.
    bell_rise : float, optional
        Top of a bell above the invert [m]; shots on bells are left out where it is not known.
    doubt : float, optional
        One standard deviation of a shot [m].
    only : str, optional
        Judge this line alone; shots of others are put where they belong all the same.
    stick : float
        Laying length of the pipe [m]; shots more than a stick and a half apart do not speak for what lies between.

    Returns
    -------
    AsBuilt
        With every reason for its verdict.
    """
    placed = place(design, shots)
    if only is not None:
        placed = _of_line(placed, only)
        design = replace(design, lines=tuple(line for line in design.lines if line.id == only))
    told = list(design.assumptions)
    usual = on or ("top" if set_up.hi is not None else "invert")
    if on is None and any(not shot.on for _, _, shot in placed.on_line):
        stood = "the outside top of the pipe" if usual == "top" else "the invert"
        told.append(f"Shots are taken to stand on {stood} where they do not say (--on changes it).")
    shift, fixed, agree = _datum(placed)
    lines = []
    out = Findings(unit=design.unit, high=design.elevation_unit)
    for line in design.lines:
        own = [(s, shot) for name, s, shot in placed.on_line if name == line.id]
        lifted = [(s, shot, _lift(shot.on or usual, line, s, design.bedding, bell_rise)) for s, shot in own]
        lines.append(_laid(line, design, lifted, placed, doubt, shift or 0.0, stick, out))
    judge_set_up(out, set_up)
    judge_placing(out, placed)
    judge_datum(out, fixed, shift, agree=agree)
    if design.laid_pipe:
        out.say(
            "fix-paper",
            "paper",
            (
                f"The plan has {design.lines[0].pipe}; {design.laid_pipe} was laid. Walls and bells are those of "
                "what was laid."
            ),
        )
    levels = [level for line in lines for level in judge_outlet(out, line, fixed, shift or 0.0)]
    judged = [line for line in lines if line.fit is not None]
    if judged and all(_wrong_surface(line, usual, placed) for line in judged):
        other = "the outside top" if usual == "invert" else "the invert"
        out.say(
            "cannot-tell",
            "grade",
            f"All shots lie {_off_by(judged[0], design)}: did the rod stand on {other}? Say --on.",
        )
    else:
        for one in lines:
            judge_line(out, one, design, levels, has_datum=shift is not None and not _alone(fixed, shift))
    order: tuple[Verdict, ...] = ("re-dig", "cannot-tell", "fix-paper", "accept")
    if set_up.slipped is not None and abs(set_up.slipped) > MISCLOSED:
        order = ("cannot-tell", "re-dig", "fix-paper", "accept")  # no figure of a slipped set-up condemns a pipe
    reasons = sorted(out.reasons, key=lambda one: order.index(one.asks_for))
    return AsBuilt(
        verdict=_weightiest(reasons),
        grade=_weightiest(reasons, "grade"),
        paper=_weightiest(reasons, "paper"),
        reasons=tuple(reasons),
        datum_shift=shift,
        fixed=fixed,
        turned=placed.turned,
        lines=tuple(lines),
        missing=placed.missing,
        unjudged=placed.unjudged,
        moved=placed.moved,
        found=placed.found,
        stray=placed.stray,
        outlets=tuple(levels),
        relay=tuple(out.relay),
        reshoot=tuple(out.reshoot),
        set_up=set_up,
        assumptions=tuple(told),
        notes=tuple(out.notes),
        laid_pipe=design.laid_pipe,
        reopened=tuple(out.reopened),
    )


def _alone(fixed: Sequence[tuple[Item, LaidShot, float]], shift: float) -> bool:
    """Whether the one object shot quarrels with the plan about the datum and nothing bears it out."""
    return len(fixed) == 1 and not shift and abs(fixed[0][2]) > FIXED_AGREE


def _weightiest(reasons: Sequence[Reason], about: About | None = None) -> Verdict:
    return next((one.asks_for for one in reasons if about in {None, one.about}), "accept")


def _of_line(placed: Placed, only: str) -> Placed:
    """What of the shots speaks of one line; fixed objects speak of all."""
    return replace(
        placed,
        on_line=tuple(one for one in placed.on_line if one[0] == only),
        missing=tuple(item for item in placed.missing if item.line == only),
        unjudged=tuple(item for item in placed.unjudged if item.line == only),
        moved=tuple(one for one in placed.moved if one[0].line == only),
        found=tuple(one for one in placed.found if one[0].line == only),
        stray=(),
    )


def _datum(placed: Placed) -> tuple[float | None, tuple[tuple[Item, LaidShot, float], ...], bool]:
    """Shift of the datum from fixed objects alone, the objects with their own shifts, and whether these agree.

    One object alone may itself have moved, and moves no datum; but for the one that the outlet is judged against.
    """
    fixed = tuple(
        (item, shot, shot.height - item.elevation) for item, shot in placed.fixed if item.elevation is not None
    )
    if not fixed:
        return None, (), True
    each = np.array([shift for _, _, shift in fixed])
    middle = float(np.median(each))
    agree = bool(np.ptp(each) <= FIXED_AGREE)
    proven = agree and (len(fixed) > 1 or bool(fixed[0][0].controls))
    return (middle if abs(middle) > DATUM_SEEN and proven else 0.0), fixed, agree


def _laid(
    line: DesignLine,
    design: Design,
    own: Sequence[tuple[float, LaidShot, float | None]],
    placed: Placed,
    doubt: float | None,
    shift: float,
    stick: float,
    out: Findings,
) -> LaidLine:
    sorted_ = sort_shots(line, own, placed.aside, shift)
    places = sorted_.places
    for at, shot in sorted_.caps:
        name = f"row {shot.row} {shot.name}".strip()
        out.notes.append(f"{name} at {out.at(at)} is taken for the cleanout's cap, not for the pipe.")
    for shot in sorted_.other:
        out.notes.append(
            f"{f'row {shot.row} {shot.name}'.strip()} is not taken for pipe, by its place, height and name."
        )
    station: Floats = np.array([np.mean([one.station for one in group]) for group in places], np.float64)
    # what stands off the design is averaged, so that stations a hand apart do not tilt
    off: Floats = np.array(
        [np.mean([one.invert - _design(line, one.station) for one in group]) for group in places], np.float64
    )
    shot_at = off + line.at(station) if len(station) else off
    shots = tuple(one.shot for group in places for one in group)
    beside = [
        (one.station, placed.aside[one.shot.row]) for group in places for one in group if one.shot.row in placed.aside
    ]
    whole = LaidLine(
        design=line,
        shots=shots,
        fit=None,
        xy=tuple(_middle(group) for group in places),
        bellies=(),
        pieces=(),
        pairs=(),
        gaps=_gaps(line, station, stick),
        cover_lost=None,
        smallest=None,
        aside=max(beside, key=lambda one: one[1], default=None),
        asked=sorted_.asked,
        other=sorted_.other,
    )
    short = line.station[-1] - line.station[0] <= 2 * stick
    if len(station) < (2 if short else 3):
        return whole
    fit = fit_laid(station, shot_at, line.at(station), doubt)
    return replace(
        whole,
        fit=fit,
        bellies=bellies(fit),
        pieces=pieces(fit, design.min_grade),
        pairs=pairs(fit, design.min_grade),
        cover_lost=_cover_lost(line, fit),
        smallest=smallest_shown(fit),
    )


def _design(line: DesignLine, station: float) -> float:
    return float(line.at(np.array([station]))[0])


def _middle(group: Sequence[OnPipe]) -> tuple[float, float] | None:
    """Where a place was shot [m]; None for shots by station."""
    known = [(one.shot.x, one.shot.y) for one in group if one.shot.x is not None and one.shot.y is not None]
    return (float(np.mean([x for x, _ in known])), float(np.mean([y for _, y in known]))) if known else None


def _gaps(line: DesignLine, station: Floats, stick: float) -> tuple[tuple[float, float], ...]:
    """Stretches that the shots do not speak for. A design given as a grade alone has no ends."""
    between = [(float(a), float(b)) for a, b in itertools.pairwise(station.tolist()) if b - a > 1.5 * stick + _SLACK]
    if not len(station) or not line.has_ends:
        return tuple(between)
    ends = ((float(line.station[0]), float(station[0])), (float(station[-1]), float(line.station[-1])))
    return tuple(sorted([*between, *((a, b) for a, b in ends if b - a > stick + _SLACK)]))


def _lift(on: str, line: DesignLine, station: float, bedding: float, bell_rise: float | None) -> float | None:
    """Height of what the rod stood on above the invert [m]; None: not known."""
    rise, below, bell = line.wall_at(station)
    return {"top": rise, "invert": 0.0, "bottom": -below - bedding, "bell": bell if bell_rise is None else bell_rise}[
        on
    ]


def _cover_lost(line: DesignLine, fit: LaidFit) -> tuple[float, float] | None:
    """Where the pipe lies so high that the rule of cover, kept by the plan, is broken beyond doubt; the worst place."""
    off = fit.fitted - fit.design
    worst = None
    for station, spare in line.least_cover:
        if not fit.station[0] <= station <= fit.station[-1]:
            continue
        short = float(np.interp(station, fit.station, off)) - spare - OFF_GRADE
        if short > 0 and (worst is None or short > worst[1]):
            worst = (station, short + OFF_GRADE)
    return worst


def _off_by(line: LaidLine, design: Design) -> str:
    """How far the shots of a line lie off the plan, beside the height that would explain it."""
    assert line.fit is not None
    off = float(np.median(line.fit.shot - line.fit.design))
    found, rise = (units.length_text(value, design.unit) for value in (abs(off), line.design.rise))
    return f"{found} {'high' if off > 0 else 'low'}, about the height of the pipe's top above its invert ({rise})"


def _wrong_surface(line: LaidLine, usual: str, placed: Placed) -> bool:
    """Whether the shots, one by one, are off by the pipe's own height, as when the rod stood on the other surface."""
    if line.fit is None or usual not in {"top", "invert"} or any(shot.on for shot in line.shots) or placed.fixed:
        return False
    off = line.fit.shot - line.fit.design
    expected = line.design.rise if usual == "invert" else -line.design.rise
    return bool(np.mean(np.abs(off - expected) < _ALIKE) >= _MOST)
