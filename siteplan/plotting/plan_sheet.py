"""A plan in; its site plan on paper out, at the largest scale that fits or at the one asked for."""

from __future__ import annotations

from collections.abc import Sequence

from siteplan import units
from siteplan.errors import InputError
from siteplan.plotting.ground_lines import GroundLines
from siteplan.plotting.looks_of import LAID, PRESSED, area_look, run_look
from siteplan.plotting.paper_sizes import Box, Paper, fitting_scale, scale_words
from siteplan.plotting.shapes import Filled, Mark, Page, Spot, Stroke
from siteplan.sheets.wording import placed
from siteplan.values import Plan

_ROUND_MM = 12.0  # round the lot, for its dimensions
_COLUMN_MM = 56.0  # at the right: key, north, scale bar


def plan_pages(plan: Plan, paper: Paper, scale: int | None, ground: GroundLines | None) -> Sequence[Page]:  # noqa: ARG001
    """The sheets of the site plan.

    Parameters
    ----------
    plan : Plan
        As stored.
    paper : Paper
        To draw on.
    scale : int, optional
        1 to so many; the largest that fits where absent.
    ground : GroundLines, optional
        Contours; none where absent.

    Returns
    -------
    sequence of Page
        One sheet.

    Raises
    ------
    InputError
        Where the lot fits at no scale.
    """
    lot = [spot for one in plan.features if one.kind == "lot" for ring in one.rings for spot in ring]
    spots = [*lot, *placed(plan)]
    west, south = min(x for x, _ in spots), min(y for _, y in spots)
    east, north = max(x for x, _ in spots), max(y for _, y in spots)
    room = Box(
        left=paper.inside.left, bottom=paper.inside.bottom, right=paper.inside.right - _COLUMN_MM, top=paper.inside.top
    )
    inner = Box(
        left=room.left + _ROUND_MM,
        bottom=room.bottom + _ROUND_MM,
        right=room.right - _ROUND_MM,
        top=room.top - _ROUND_MM,
    )
    ratio = scale or fitting_scale(east - west, north - south, inner, plan.length_unit)
    if ratio is None:
        raise InputError("--paper", "is too small for the lot at any scale", "Take a larger one, or give --scale.")
    by = 1.0 / (ratio * units.MILLIMETRE)

    def at(spot: Spot) -> Spot:
        return (
            (inner.left + inner.right) / 2 + (spot[0] - (west + east) / 2) * by,
            (inner.bottom + inner.top) / 2 + (spot[1] - (south + north) / 2) * by,
        )

    shapes: list[Mark] = []
    for one in plan.features:
        rings = tuple(tuple(at(spot) for spot in ring) for ring in one.rings)
        area, run = area_look(one.kind), run_look(one.kind)
        if one.shape == "Polygon" and area is not None:
            shapes.append(
                Filled(layer=one.kind, rings=rings, fill=area.fill, pen=area.pen)
            ) if area.fill else shapes.extend(
                Stroke(layer=one.kind, points=ring, pen=area.pen, closed=True) for ring in rings
            )
        elif one.shape == "LineString" and run is not None:
            shapes.extend(Stroke(layer=one.kind, points=ring, pen=run.pen) for ring in rings)
    for line in plan.every_line:
        pen = LAID if line.pumped is None else PRESSED
        shapes.append(Stroke(layer="lines", points=tuple(at((v.x, v.y)) for v in line.vertices), pen=pen))
    return [Page(paper=paper, title="Plan", shapes=tuple(shapes), scale=scale_words(ratio, plan.length_unit))]
