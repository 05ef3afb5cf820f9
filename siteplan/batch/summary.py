"""Records of lots in; summary.csv, summary.gpkg and index.html out, the worst first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from urllib.parse import quote

from siteplan import units
from siteplan.batch.record import LOT_STATES, LotRecord
from siteplan.sheets.doubt_words import chance_text
from siteplan.sheets.geopackage import UNDATED, Layer, geopackage
from siteplan.sheets.lots_page import MOST_DRAWN, LotRow, StateLook, lots_page
from siteplan.sheets.lots_table import lots_csv

SUMMARIES = ("summary.csv", "summary.gpkg", "index.html")
LOOKS = {
    "fault": StateLook(word="not planned, a fault of ours", letter="?", fill="#d9c7e8"),
    "bad-input": StateLook(word="not planned, input cannot be used", letter="I", fill="#e0e0e0"),
    "fails": StateLook(word="a check fails", letter="F", fill="#e88f6a"),
    "cannot-tell": StateLook(word="cannot tell", letter="C", fill="#f0d58a"),
    "sure": StateLook(word="sure to drain", letter="S", fill="#a9d8c4"),
}
_HEAD = (
    "lot",
    "site",
    "state",
    "exit_code",
    "sources",
    "sure",
    "cannot_tell",
    "on_failing_line",
    "not_drained",
    "fails",
    "flags",
    "margin",
    "unit",
    "chance_falls",
    "trench",
    "why",
    "what_would_flip_it",
    "plan",
)
_COLUMNS: dict[str, type] = {
    "lot": str,
    "site": str,
    "state": str,
    "exit_code": int,
    "sources": int,
    "sure": int,
    "cannot_tell": int,
    "on_failing_line": int,
    "not_drained": int,
    "fails": int,
    "flags": int,
    "margin_m": float,
    "chance_falls": float,
    "trench_m": float,
    "why": str,
    "what_would_flip_it": str,
    "plan": str,
}
_LAPPED = 0.02  # of a lot that may lie over another where they share a grid: what two surveys of one line differ by
_NOTES = (
    (
        "Each lot is planned for itself: what one lot's water does to the next is not looked at. A planning aid, "
        "not a survey, an engineered design or an approval: local code and licensed practice decide."
    ),
    (
        "Before digging anywhere, request public locates and wait for them; nobody enters a trench past 4 ft "
        "(1.2 m) without a way out or past 5 ft (1.5 m) without protection."
    ),
)


def summaries(
    names: Sequence[str],
    record: Callable[[str], LotRecord | None],
    passed: Sequence[str],
    gone: Sequence[str],
    stamp: str | None,
) -> Iterator[tuple[str, bytes]]:
    """The files that tell of all lots.

    Parameters
    ----------
    names : sequence of str
        Of the lots, the worst first.
    record : callable
        The record of a lot of that name; asked for one at a time, so that they need not all be held.
    passed : sequence of str
        Folders that hold no site.
    gone : sequence of str
        Lots of an earlier run that are not among the sites any more.
    stamp : str or None
        Date printed.

    Yields
    ------
    tuple of str and bytes
        Name and content.
    """

    def every() -> Iterator[LotRecord]:
        for name in names:
            held = record(name)
            if held is not None:
                yield held

    yield "summary.csv", lots_csv(_HEAD, (_cells(one) for one in every()))
    yield (
        "summary.gpkg",
        geopackage([_layer(every(), placed=True), _layer(every(), placed=False)], "EPSG:4326", stamp or UNDATED),
    )
    shown: list[LotRecord] = []
    counts = Counter[str]()
    for one in every():
        counts[one.state] += 1
        if len(shown) < MOST_DRAWN:
            shown.append(one)
    shared = _one_grid(shown)
    rows = [_row(one, on_grid=shared) for one in shown]
    notes = [
        *(
            ["Drawn on the lots' own coordinates, as on one grid: no two of them lie over one another."]
            if shared
            else []
        ),
        *([f"Passed over, since no site.toml is in them: {_some(passed)}."] if passed else []),
        *([f"Not among the sites any more, and left as they are: {_some(gone)}."] if gone else []),
        *_NOTES,
    ]
    title = "Lots planned" if stamp is None else f"Lots planned, {stamp}"
    yield (
        "index.html",
        lots_page(
            title,
            notes,
            LOOKS,
            ("fall to spare", "why", "what would flip it"),
            rows,
            {state: counts[state] for state in LOT_STATES},
            "summary.csv",
            flat=shared,
        ),
    )


def _one_grid(lots: Sequence[LotRecord]) -> bool:
    """Whether lots without a place on earth can stand on one grid.

    There are several, none has a place, no two lie over one another.
    """
    import shapely

    rings = [one.ring for one in lots if one.ring]
    if len(rings) < 2 or any(one.placed for one in lots):
        return False
    areas = shapely.buffer([shapely.Polygon(ring) for ring in rings], 0)
    first, second = shapely.STRtree(areas).query(areas, predicate="intersects")
    pairs = first < second
    over = shapely.area(shapely.intersection(areas[first[pairs]], areas[second[pairs]]))
    least = shapely.area(areas)
    return bool((over <= _LAPPED * least[first[pairs]]).all() and (over <= _LAPPED * least[second[pairs]]).all())


def _some(names: Sequence[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")


def _page_of(one: LotRecord) -> str:
    return quote(f"lots/{one.name}/map.html") if one.files else ""


def _length(value: float | None, unit: str) -> str:
    digits = 3 if unit == "m" else 2
    return "" if value is None or not unit else f"{units.rounded(units.from_metres(value, unit), digits):.{digits}f}"


def _cells(one: LotRecord) -> list[str]:
    return [
        one.name,
        one.title,
        one.state,
        str(one.code),
        str(one.sources),
        str(one.sure),
        str(one.unsure),
        str(one.failing),
        str(one.undrained),
        str(one.fails),
        str(one.flags),
        _length(one.margin, one.unit),
        one.unit,
        "" if one.chance is None else f"{one.chance:.2f}",
        _length(one.trench, one.unit),
        one.why,
        one.flip,
        f"lots/{one.name}" if one.files else "",
    ]


def _row(one: LotRecord, *, on_grid: bool) -> LotRow:
    spare = "" if one.margin is None else units.spare_text(one.margin, one.unit)
    if one.chance is not None and one.state == "cannot-tell":
        spare = f"{spare}; falls: {chance_text(one.chance)}"
    return LotRow(
        name=one.name,
        state=one.state,
        ring=one.ring if one.placed or on_grid else (),
        cells=(spare, one.why, one.flip),
        link=_page_of(one),
    )


def _layer(records: Iterator[LotRecord], *, placed: bool) -> Layer:
    """Lots with a place on earth, and what has none.

    Or lots on coordinates of their own, which lie over one another.
    """
    rows = []
    for one in records:
        if one.placed if placed else one.ring and not one.placed:
            rows.append(([one.ring], _values(one)))
        elif placed and not one.ring:
            rows.append(([], _values(one)))
    name = "lots" if placed else "lots_on_own_grids"
    told = (
        "Lots, the worst first" if placed else "Lots on coordinates of their own, in metres: no two need share a grid"
    )
    return Layer(
        name=name, description=told, kind="AREA", columns=_COLUMNS, rows=rows, crs="EPSG:4326" if placed else "local"
    )


def _values(one: LotRecord) -> dict[str, object]:
    return {
        "lot": one.name,
        "site": one.title,
        "state": one.state,
        "exit_code": one.code,
        "sources": one.sources,
        "sure": one.sure,
        "cannot_tell": one.unsure,
        "on_failing_line": one.failing,
        "not_drained": one.undrained,
        "fails": one.fails,
        "flags": one.flags,
        "margin_m": one.margin,
        "chance_falls": one.chance,
        "trench_m": one.trench,
        "why": one.why,
        "what_would_flip_it": one.flip,
        "plan": f"lots/{one.name}" if one.files else None,
    }
