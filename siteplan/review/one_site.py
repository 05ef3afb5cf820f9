"""Two stored plans in; whether they are of one site, told by where their lots lie, not by what they are called."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from siteplan.values.drawn_shapes import PlanFeature
from siteplan.values.whole_plan import Plan

if TYPE_CHECKING:
    from shapely import Polygon

_SAME_PLACE = 0.05  # m; as two ways are one
# of the smaller lot; a lot line that is surveyed anew moves less, neighbours have nothing. Common practice, no source
LOTS_IN_COMMON = 0.05
_LOCAL = "local"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLikeness:
    """Whether two plans are of one site.

    Attributes
    ----------
    same : bool
        Yes as well where nothing speaks against it.
    lots_in_common : float or None
        Share of the smaller lot that lies in the other; None where they cannot be laid over one another.
    """

    same: bool
    lots_in_common: float | None


def site_likeness(first: Plan, second: Plan) -> SiteLikeness:
    """Whether two plans are of one site.

    Parameters
    ----------
    first, second : Plan
        As stored.

    Returns
    -------
    SiteLikeness
        Lots on the earth are one site where they have ground in common. On grids of their own, which may all begin at
        0, 0, name, digests of the files, and places of sources and outlets speak as well.
    """
    common = _lots_in_common(first, second)
    local = first.crs == _LOCAL and second.crs == _LOCAL
    files = {one.sha256 for one in first.inputs} & {one.sha256 for one in second.inputs}
    stranger = first.site_name != second.site_name and not files
    if common is None:
        same = not stranger
    elif local:
        same = not (stranger and (common < LOTS_IN_COMMON or not _place_in_common(first, second)))
    else:
        same = common >= LOTS_IN_COMMON
    return SiteLikeness(same=same, lots_in_common=common)


def _lots_in_common(first: Plan, second: Plan) -> float | None:
    """Share of the smaller lot that lies in the other."""
    import shapely

    lots = [next((one for one in plan.features if one.kind == "lot"), None) for plan in (first, second)]
    if (first.crs == _LOCAL) != (second.crs == _LOCAL):
        return None
    a, b = (None if one is None else _outline(one) for one in lots)
    if a is None or b is None:
        return None
    if first.crs != second.crs:
        from pyproj import Transformer
        from pyproj.exceptions import ProjError

        try:
            move = Transformer.from_crs(first.crs, second.crs, always_xy=True)
            a = shapely.transform(a, move.transform, interleaved=False)
        except ProjError:
            return None
    if not (a.is_valid and b.is_valid and min(a.area, b.area) > 0):
        return None
    return float(a.intersection(b).area / min(a.area, b.area))


def _outline(lot: PlanFeature) -> Polygon | None:
    import shapely

    if lot.shape != "Polygon" or not lot.rings or len(lot.rings[0]) < 4:
        return None
    return shapely.Polygon(lot.rings[0], lot.rings[1:])


def _place_in_common(first: Plan, second: Plan) -> bool:
    """Whether any source or outlet of both stands in one place."""
    return any(
        abs(x - u) <= _SAME_PLACE and abs(y - v) <= _SAME_PLACE for x, y in _places(first) for u, v in _places(second)
    )


def _places(plan: Plan) -> Iterable[tuple[float, float]]:
    return [*((one.x, one.y) for one in plan.sources), *((one.x, one.y) for one in plan.outlets if not one.found)]
