"""A file of deed calls in; the lot that they enclose, as a record in the site's own coordinates, out."""

from __future__ import annotations

from pathlib import Path

from siteplan.deeds.calls import read_deed
from siteplan.deeds.deed_text import deed_unit, misclosure_text, turn_text
from siteplan.deeds.traverse import laid_out, ring_of
from siteplan.errors import InputError, NotGiven, raise_gathered
from siteplan.survey.files import said, text_of
from siteplan.survey.records import FeatureRecord, VectorFile

DEED_ENDING = ".deed"


def read_deed_lot(path: Path, shown: str, metres: float | None) -> VectorFile:
    """The lot by a deed's calls.

    Parameters
    ----------
    path : Path
        An existing text, see docs/deeds.md.
    shown : str
        Its name in errors.
    metres : float or None
        In one unit of the site's coordinates [m]; None where they are degrees.

    Returns
    -------
    VectorFile
        One record of kind lot; what was taken is said in its assumptions.

    Raises
    ------
    InputError, InputErrors
        For a call that cannot be made out; `NotGiven` where the start is not told, or a misclosure larger than the last
        digits of the calls make is left to nobody's decision.
    """
    from shapely.geometry import Polygon

    if metres is None:
        raise InputError(
            shown, "gives lengths on a plane, and crs is in degrees", "Name a projected CRS, or crs = local."
        )
    deed = read_deed(text_of(path, shown), shown)
    unit = deed_unit(deed)
    traverse = laid_out(deed.calls, spread=deed.close == "compass-rule")
    missed = traverse.misclosure
    faults: list[InputError] = []
    if deed.start is None:
        faults.append(
            NotGiven(
                f"{shown}, start",
                "is missing: nothing tells where the first call begins",
                "Write start = N 5000.00 E 2000.00, in the site's own coordinates.",
            )
        )
    if not missed.by_rounding and not deed.close:
        faults.append(
            NotGiven(
                f"{shown}, close",
                misclosure_text(missed, unit),
                (
                    "Correct a call, or write close = compass-rule (spread over the calls by their lengths) or "
                    "close = last-side (nothing is spread; the last side runs back to the start)."
                ),
            )
        )
    raise_gathered(faults)
    assert deed.start is not None
    north, east = deed.start
    ring = [(east + x / metres, north + y / metres) for x, y in ring_of(traverse)]
    done = "spread over the calls by the compass rule" if traverse.spread else "left in the last side"
    notes = [
        f"{shown}: the lot is drawn by {len(deed.calls)} calls of a deed, which {misclosure_text(missed, unit)}"
        + ("" if missed.ratio is None else f"; that is {done}"),
        (
            f"{shown}: "
            f"{f'every call is turned {turn_text(deed)}, as the file asks, to' if deed.turned else 'bearings of the deed are taken from'} "
            "the grid's north of the site, and its lengths are taken as lengths on that grid"
        ),
        *(
            (
                f"{shown}, line {call.line}: no bearing of the curve's chord is written; it is laid tangent to "
                "the call before"
            )
            for call in deed.calls
            if call.tangent
        ),
    ]
    record = FeatureRecord(
        number=1,
        place=f"{shown}, the lot",
        properties={"kind": "lot", **({"name": said(deed.name)} if deed.name else {})},
        geometry=Polygon(ring),
    )
    return VectorFile(file=shown, paths=(path,), records=(record,), crs=None, assumptions=tuple(notes))
