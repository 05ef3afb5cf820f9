"""A plan and the name of a format in; the bytes of that file out."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from siteplan.stored.folder_of import StoredPlan

FORMATS = ("gpkg", "geojson", "svg", "landxml", "points", "xlsx")
COLUMN_ORDERS = {  # of stake-out points: what a person asks for, and the columns that come
    "north-first": ("number", "north", "east", "height", "description"),
    "east-first": ("number", "east", "north", "height", "description"),
    "north-first-number-last": ("north", "east", "height", "description", "number"),
    "east-first-number-last": ("east", "north", "height", "description", "number"),
}


def exported(
    stored: StoredPlan, form: str, *, date: str | None = None, scale: int | None = None, order: str = "north-first"
) -> bytes:
    """A plan in another program's format.

    Parameters
    ----------
    stored : StoredPlan
        As it stands in its folder.
    form : str
        gpkg, geojson, svg, landxml, points or xlsx.
    date : str, optional
        ISO; the plan's own where absent.
    scale : int, optional
        Of svg, 1 to so many.
    order : str
        Of points: one of COLUMN_ORDERS.

    Returns
    -------
    bytes
        The same for the same input.

    Raises
    ------
    InputError
        Where the format cannot hold this survey.
    KeyError
        For another format.
    """
    plan = stored.plan
    if form == "gpkg":
        from siteplan.exchange.gpkg import plan_geopackage

        return plan_geopackage(plan, date)
    if form == "geojson":
        from siteplan.exchange.geojson import plan_geojson

        return plan_geojson(plan)
    if form == "svg":
        from siteplan.exchange.svg import plan_svg

        return plan_svg(plan, scale)
    if form == "landxml":
        from siteplan.exchange.landxml import plan_landxml

        return plan_landxml(plan, date)
    if form == "points":
        from siteplan.exchange.points import stakeout_points

        return stakeout_points(plan, order)
    if form == "xlsx":
        from siteplan.exchange.workbook import plan_workbook

        return plan_workbook(stored, date)
    raise KeyError(form)
