"""Lots as screened in; screen.csv, screen.gpkg and index.html out, the worst first."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict

from siteplan import units
from siteplan.screen.answers import ANSWERS_FILE
from siteplan.screen.asked import SCREEN_STATES, LotScreen, ScreenAsked
from siteplan.sheets.geopackage import UNDATED, Layer, geopackage
from siteplan.sheets.lots_page import MOST_DRAWN, LotRow, StateLook, lots_page
from siteplan.sheets.lots_table import lots_csv

SCREEN_FILE = "screen.json"
SCREEN_FORMAT = "siteplan-screen"
SCREEN_NAMES = ("screen.csv", "screen.gpkg", "index.html", SCREEN_FILE, ANSWERS_FILE)
SCREEN_LOOKS = {
    "short": StateLook(word="short of fall", letter="N", fill="#e88f6a"),
    "cannot-tell": StateLook(word="cannot tell", letter="C", fill="#f0d58a"),
    "rear": StateLook(word="gravity to the rear", letter="R", fill="#bcd9f2"),
    "street": StateLook(word="gravity to the street", letter="S", fill="#a9d8c4"),
    "both": StateLook(word="gravity to both", letter="B", fill="#7cc2a3"),
}
WHYS = {
    "": "",
    "no-outline": "its outline cannot be used",
    "no-ground": "the elevation knows no ground there",
    "no-corner": "no place on it where a house could stand",
    "no-way": "no open way to any outlet",
    "no-outlet": "no street by it, and no lawful place on it that is low enough",
    "parted": "some corners by the street, the others by the rear",
    "fault": "a fault of ours",
}
_HEAD = (
    "lot",
    "number",
    "state",
    "margin",
    "unit",
    "street_margin",
    "rear_margin",
    "chance",
    "house",
    "why",
    "shots",
)
_COLUMNS: dict[str, type] = {
    "lot": str,
    "number": int,
    "state": str,
    "margin_m": float,
    "street_margin_m": float,
    "rear_margin_m": float,
    "chance": float,
    "house": str,
    "why": str,
    "shots": str,
}
_CHUNK = 1000  # lots written at once


def screen_rank(one: LotScreen) -> tuple[float, ...]:
    """Worst first: short by most, then what cannot be told, then what drains with the least to spare.

    Parameters
    ----------
    one : LotScreen
        A lot.

    Returns
    -------
    tuple of float
        Sorts.
    """
    return SCREEN_STATES.index(one.state), -1e9 if one.margin is None else one.margin, one.number


def screen_files(
    every: Callable[[], Iterator[LotScreen]],
    asked: ScreenAsked,
    crs: str,
    unit: str,
    notes: Sequence[str],
    stamp: str | None,
    left_out: int,
) -> dict[str, bytes]:
    """The files of a screen.

    Parameters
    ----------
    every : callable
        Gives the lots, the worst first; called once for each file, so that they need not all be held.
    asked : ScreenAsked
        What was asked.
    crs : str
        Of the parcels.
    unit : str
        'm', 'ft' or 'us-ft': of lengths in the table.
    notes : sequence of str
        What was assumed.
    stamp : str or None
        Date printed.
    left_out : int
        Features of the parcels that are no lots.

    Returns
    -------
    dict of str to bytes
        Name and content.
    """
    counts = Counter[str]()
    rows: list[LotRow] = []
    for one in every():
        counts[one.state] += 1
        if len(rows) < MOST_DRAWN:
            rows.append(_row(one, unit))
    shown: dict[str, int] = {state: counts[state] for state in SCREEN_STATES}
    title = "Lots screened" if stamp is None else f"Lots screened, {stamp}"
    heads = ("fall to spare", "by the street", "by the rear", "why", "shots that would settle it")
    asked_for = {
        key: value
        for key, value in asdict(asked).items()
        if key not in {"parcels", "elevation", "buildings", "streets"}
    }
    record = {
        "format": SCREEN_FORMAT,
        "version": 1,
        "crs": crs,
        "asked": asked_for,
        "lots": shown,
        "left_out": left_out,
        "notes": list(notes),
    }
    return {
        "screen.csv": lots_csv(_HEAD, (_cells(one, unit) for one in every())),
        "screen.gpkg": geopackage(_layers(every()), crs, stamp or UNDATED),
        "index.html": lots_page(title, notes, SCREEN_LOOKS, heads, rows, shown, "screen.csv"),
        SCREEN_FILE: json.dumps(record, indent=1, ensure_ascii=True).encode() + b"\n",
    }


def _length(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value / units.LENGTH[unit] + 0.0:.2f}"


def _shots(one: LotScreen) -> str:
    return "; ".join(
        f"{shot.what} E {shot.x:.6f} N {shot.y:.6f}"
        if abs(shot.x) <= 180 and abs(shot.y) <= 90
        else f"{shot.what} E {shot.x:.2f} N {shot.y:.2f}"
        for shot in one.shots
    )


def _house(one: LotScreen) -> str:
    return "drawn" if one.drawn_house else "assumed"


def _cells(one: LotScreen, unit: str) -> list[str]:
    return [
        one.name,
        str(one.number),
        one.state,
        _length(one.margin, unit),
        unit,
        _length(one.street, unit),
        _length(one.rear, unit),
        "" if one.chance is None else f"{one.chance:.2f}",
        _house(one),
        WHYS[one.why],
        _shots(one),
    ]


def _row(one: LotScreen, unit: str) -> LotRow:
    def spare(value: float | None) -> str:
        return "" if value is None else units.spare_text(value, unit)

    return LotRow(
        name=one.name,
        state=one.state,
        ring=one.ring,
        cells=(spare(one.margin), spare(one.street), spare(one.rear), WHYS[one.why], _shots(one)),
    )


def _layers(lots: Iterator[LotScreen]) -> Iterator[Layer]:
    """The lots in chunks of one layer."""
    chunk: list[LotScreen] = []
    for one in lots:
        chunk.append(one)
        if len(chunk) == _CHUNK:
            yield _layer(chunk)
            chunk = []
    yield _layer(chunk)


def _layer(chunk: Sequence[LotScreen]) -> Layer:
    rows = [
        (
            [one.own_ring] if len(one.own_ring) > 3 else [],
            {
                "lot": one.name,
                "number": one.number,
                "state": one.state,
                "margin_m": one.margin,
                "street_margin_m": one.street,
                "rear_margin_m": one.rear,
                "chance": one.chance,
                "house": _house(one),
                "why": WHYS[one.why],
                "shots": _shots(one),
            },
        )
        for one in chunk
    ]
    return Layer(name="lots", description="Lots screened, the worst first", kind="AREA", columns=_COLUMNS, rows=rows)
