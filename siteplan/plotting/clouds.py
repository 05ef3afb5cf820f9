"""Places that changed in; clouds round them out, each with the number under which the table tells it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from siteplan.plotting.gathered import Gathered
from siteplan.plotting.placing import Label
from siteplan.plotting.shapes import Pen, Spot, Stroke
from siteplan.plotting.view import View, cut_to

_OFF = 4.0  # from what changed to the cloud [mm]
_BOW = 3.6  # from one bow's foot to the next [mm]
CLOUD = Pen(color="#c40000", width=0.35)
GONE = Pen(color="#c40000", width=0.3, dash=(1.0, 1.0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Clouded:
    """Something that changed.

    Its number, its runs of places in the plan's frame [m] (a place is a run of one), whether it is gone.
    """

    number: int
    runs: tuple[tuple[Spot, ...], ...]
    gone: bool = False


def cloud_marks(held: tuple[Clouded, ...], view: View, out: Gathered) -> None:
    """Clouds on the plan.

    Parameters
    ----------
    held : tuple of Clouded
        What changed.
    view : View
        Where and how large.
    out : Gathered
        Is added to.
    """
    import shapely

    for one in held:
        placed = [[view.at(spot) for spot in run] for run in one.runs]
        shown = [piece for run in placed if len(run) > 1 for piece in cut_to(view.room, run)]
        shown += [tuple(run) for run in placed if len(run) == 1 and view.shows(one.runs[0][0])]
        if not shown:
            continue
        if one.gone:
            out.under.extend(Stroke(layer="gone", points=piece, pen=GONE) for piece in shown if len(piece) > 1)
            out.key["gone"] = "Line of the plan before, now gone"
        area = shapely.union_all(
            [(shapely.LineString(piece) if len(piece) > 1 else shapely.Point(piece[0])).buffer(_OFF) for piece in shown]
        )
        for part in shapely.get_parts(area):
            for piece in cut_to(view.room, _bows([(float(x), float(y)) for x, y in part.exterior.coords])):
                out.under.append(Stroke(layer="clouds", points=piece, pen=CLOUD))
        out.key["cloud"] = "Changed since the plan before; numbers as in the table of changes"
        middle = shown[0][len(shown[0]) // 2]
        words = (f"\u25b3 {one.number}",)
        out.labels.append(
            (2, Label(layer="clouds", lines=words, spot=middle, strong=True, size=2.8, color=CLOUD.color))
        )


def _bows(ring: list[Spot]) -> list[Spot]:
    """A ring as bows that swell outward: half circles on equal chords, the ring going counter-clockwise."""
    turned = sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise(ring))
    if turned < 0:
        ring.reverse()
    whole = sum(math.dist(a, b) for a, b in pairwise(ring))
    count = max(6, round(whole / _BOW))
    feet = [_at(ring, whole * k / count) for k in range(count + 1)]
    found: list[Spot] = []
    for a, b in pairwise(feet):
        mx, my, r = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2, math.dist(a, b) / 2
        start = math.atan2(a[1] - my, a[0] - mx)
        found.extend(
            (mx + r * math.cos(start + t), my + r * math.sin(start + t)) for t in (k * math.pi / 6 for k in range(6))
        )
    return [*found, feet[-1]]


def _at(ring: list[Spot], far: float) -> Spot:
    for a, b in pairwise(ring):
        piece = math.dist(a, b)
        if far <= piece and piece > 0:
            return a[0] + far / piece * (b[0] - a[0]), a[1] + far / piece * (b[1] - a[1])
        far -= piece
    return ring[-1]
