"""A walked line that ends at a curb in; what its plan states of the pipe through the curb and is not so, out."""

from __future__ import annotations

import math
from collections.abc import Iterator

from siteplan.books.kinds import at_curb
from siteplan.books.practice import CURB_PIECE, SAME_SIZE
from siteplan.checks.curb_sharing import hole_each, through_same_holes
from siteplan.checks.scene import Scene, stock_of
from siteplan.checks.walk import Walk

_STATION = 0.002  # m
BORE_WRITTEN = 1e-6  # m
Stated = tuple[str, str, float | None, float | None, str]


def curb_mismatches(scene: Scene, walk: Walk) -> Iterator[Stated]:
    """Whether what goes through the curb is what lies there, and as many as the survey says.

    Parameters
    ----------
    scene : Scene
        What every check looks at.
    walk : Walk
        A walked line.

    Yields
    ------
    tuple
        Subject, quantity, what the plan states, what it should be (None: no figure can be right), where.
    """
    line, piece, words = walk.line, walk.line.curb_piece, scene.words
    outlet = scene.outlets.get(line.end)
    curb = outlet is not None and at_curb(outlet.kind)
    here = words.station(0.0)
    if piece is None:
        lower = line.reaches[:1] if curb else ()
        for below, above in zip(lower, line.reaches[1:], strict=False):
            if below.pipe.bore < above.pipe.bore * (1 - SAME_SIZE):
                yield (line.id, "smaller pipe at the curb, bore [m]", below.pipe.bore, above.pipe.bore, here)
        return
    if not curb or outlet is None:
        yield (line.id, "pieces through a curb", float(piece.number), 0.0, here)
        return
    told = 1 if hole_each(scene, outlet) else scene.site.told_of(outlet).get("holes")
    if told is not None and piece.number != int(told):
        yield (line.id, "holes through the curb", float(piece.number), float(told), here)
    entry = stock_of(scene, piece.pipe)
    for what in ("od", "bore"):
        own = math.nan if entry is None else float(getattr(entry.pipe, what))
        if not abs(float(getattr(piece.pipe, what)) - own) <= BORE_WRITTEN:
            yield (line.id, f"{what} of the pipe through the curb", getattr(piece.pipe, what), own, here)
    boxed = piece.fitting == "box"
    if boxed != (piece.number > 1 or len(through_same_holes(scene, line, outlet)) > 1):
        yield (line.id, "pipes from the box at the curb", float(piece.number), None, here)
    if boxed:
        return
    lies = [reach for reach in line.reaches if reach.station_from < piece.station_to - _STATION]
    for reach in lies:
        if (reach.pipe.kind, reach.pipe.nominal) != (piece.pipe.kind, piece.pipe.nominal):
            yield (line.id, "bore of the pipe at the curb [m]", reach.pipe.bore, piece.pipe.bore, here)
    ends = lies[-1].station_to if lies else 0.0
    if abs(ends - piece.station_to) > _STATION or piece.station_to > CURB_PIECE + _STATION:
        yield (line.id, "station of the reducer at the curb [m]", piece.station_to, ends, words.station(ends))
