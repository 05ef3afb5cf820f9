"""Many lots in; one page that opens with no network out: how many stand how, a map, and a list with the worst first.

A lot on the map is a link to its row, with or without scripts; the one script of the page brings the map nearer.
Everything that users wrote is escaped text.
"""

from __future__ import annotations

import base64
import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources

from siteplan.sheets.markup import Markup, tag
from siteplan.sheets.wording import counted, one_line

MOST_ROWS = 2000  # of the list; the table beside the page has them all
MOST_DRAWN = 20_000
_WIDE, _HIGH, _EDGE = 1200.0, 760.0, 12.0  # px
_CHIPS = 40  # in a row of lots without a place


@dataclass(frozen=True, slots=True, kw_only=True)
class StateLook:
    """How a state of a lot is called and drawn.

    A letter and a fill of its own, so that no meaning hangs on colour alone.
    """

    word: str
    letter: str
    fill: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LotRow:
    """A lot as the page shows it. `ring` is in longitude and latitude, or empty.

    `cells` stand under the page's heads.
    """

    name: str
    state: str
    ring: Sequence[tuple[float, float]]
    cells: Sequence[str]
    link: str = ""


def lots_page(
    title: str,
    notes: Sequence[str],
    looks: Mapping[str, StateLook],
    heads: Sequence[str],
    rows: Sequence[LotRow],
    counts: Mapping[str, int],
    table: str,
    *,
    flat: bool = False,
) -> bytes:
    """The page.

    Parameters
    ----------
    title : str
        Its head.
    notes : sequence of str
        Paragraphs under the map: what was assumed, and cautions.
    looks : mapping of str to StateLook
        By state, the worst first.
    heads : sequence of str
        Of the list's columns after lot and state.
    rows : sequence of LotRow
        The worst first, as many as are to be drawn; the list shows the first `MOST_ROWS`.
    counts : mapping of str to int
        Lots of each state in all.
    table : str
        Name of the file beside it that has every lot.
    flat : bool
        Rings are in metres of one grid, and not in degrees.

    Returns
    -------
    bytes
        HTML in UTF-8, the same for the same lots.
    """
    total = sum(counts.values())
    left = total - min(len(rows), MOST_ROWS)
    more = f"{counted(left, 'lot')} more in {table}." if left else f"The same list for a spreadsheet: {table}."
    shown = list(looks)
    fills = "".join(f".s{number}{{--fill:{looks[state].fill}}}" for number, state in enumerate(shown))
    style, script = _asset("lots.css") + fills, _asset("lots.js")
    policy = (
        f"default-src 'none'; script-src '{_digest(script)}'; style-src '{_digest(style)}'; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )
    tally = [
        tag("li", _mark(looks[state], shown.index(state)), f"{counts[state]} {looks[state].word}")
        for state in shown
        if counts.get(state)
    ]
    head = tag(
        "head",
        Markup('<meta charset="utf-8">'),
        Markup(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
        Markup('<meta name="viewport" content="width=device-width, initial-scale=1">'),
        Markup('<link rel="icon" href="data:,">'),
        tag("title", title),
        Markup(f"<style>{style}</style>"),
    )
    body = tag(
        "body",
        tag(
            "header",
            tag("h1", title),
            tag("p", f"{counted(total, 'lot')}, the worst first"),
            tag("ul", *tally, class_="tally"),
        ),
        tag(
            "main",
            _map(rows, looks, shown, flat=flat),
            *(tag("p", note, class_="note") for note in notes),
            _list(rows, looks, shown, heads),
        ),
        tag("footer", tag("p", more)),
        Markup(f"<script>{script}</script>"),
    )
    return f'<!DOCTYPE html>\n<html lang="en">\n{head}\n{body}\n</html>\n'.encode("utf-8", "replace")


def _asset(name: str) -> str:
    return resources.files("siteplan").joinpath("assets", "page", name).read_text(encoding="utf-8")


def _digest(block: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(block.encode()).digest()).decode()}"


def _mark(look: StateLook, number: int) -> Markup:
    return tag("span", look.letter, class_=f"mark s{number}", aria_hidden="true")


def _list(rows: Sequence[LotRow], looks: Mapping[str, StateLook], shown: Sequence[str], heads: Sequence[str]) -> Markup:
    lines = []
    for place, row in enumerate(rows[:MOST_ROWS]):
        called = one_line(row.name)
        name = tag("a", called, href=row.link) if row.link else Markup(tag("span", called))
        look = looks[row.state]
        lines.append(
            tag(
                "tr",
                tag("th", name, scope="row"),
                tag("td", _mark(look, shown.index(row.state)), f" {look.word}", class_="state"),
                *(tag("td", one_line(cell)) for cell in row.cells),
                id=f"lot-{place}",
            )
        )
    top = tag("tr", *(tag("th", one, scope="col") for one in ("lot", "state", *heads)))
    return tag(
        "div",
        tag("table", tag("thead", top), tag("tbody", *lines)),
        class_="list",
        tabindex="0",
        role="region",
        aria_label="Lots",
    )


def _map(rows: Sequence[LotRow], looks: Mapping[str, StateLook], shown: Sequence[str], *, flat: bool) -> Markup:
    placed = [(place, row) for place, row in enumerate(rows[:MOST_DRAWN]) if row.ring]
    others = [(place, row) for place, row in enumerate(rows[:MOST_DRAWN]) if not row.ring]
    parts: list[str] = []
    if placed:
        parts.append(_drawn(placed, looks, shown, flat=flat))
    if others:
        if placed:
            parts.append(tag("p", f"{counted(len(others), 'lot')} without a known place on earth:", class_="note"))
        parts.append(_chips(others, looks, shown))
    return tag("figure", *parts, class_="map")


def _drawn(
    placed: Sequence[tuple[int, LotRow]], looks: Mapping[str, StateLook], shown: Sequence[str], *, flat: bool
) -> Markup:
    """Rings by longitude and latitude, degrees of longitude as short as they are there; the worst lie on top."""
    lons = [x for _, row in placed for x, _ in row.ring]
    lats = [y for _, row in placed for _, y in row.ring]
    west, east, south, north = min(lons), max(lons), min(lats), max(lats)
    short = 1.0 if flat else math.cos(math.radians((south + north) / 2))
    across, up = max((east - west) * short, 1e-9), max(north - south, 1e-9)
    scale = min((_WIDE - 2 * _EDGE) / across, (_HIGH - 2 * _EDGE) / up)
    wide, high = across * scale + 2 * _EDGE, up * scale + 2 * _EDGE
    shapes = []
    for place, row in reversed(placed):
        points = " ".join(
            f"{_EDGE + (x - west) * short * scale:.1f},{_EDGE + (north - y) * scale:.1f}" for x, y in row.ring
        )
        shapes.append(_link(place, row, looks, tag("polygon", points=points, class_=f"lot s{shown.index(row.state)}")))
    return tag("svg", *shapes, viewbox=f"0 0 {wide:.0f} {high:.0f}", role="img", aria_label="Map of the lots, north up")


def _chips(others: Sequence[tuple[int, LotRow]], looks: Mapping[str, StateLook], shown: Sequence[str]) -> Markup:
    """A square for each lot that has no place on the map, in the order of the list."""
    step = _WIDE / _CHIPS
    shapes = []
    for number, (place, row) in enumerate(others):
        x, y = number % _CHIPS * step + 3, number // _CHIPS * step + 3
        square = tag("rect", x=x, y=y, width=step - 6, height=step - 6, class_=f"lot s{shown.index(row.state)}")
        letter = tag("text", looks[row.state].letter, x=x + step / 2 - 3, y=y + step / 2 + 2)
        shapes.append(_link(place, row, looks, square, letter))
    high = math.ceil(len(others) / _CHIPS) * step
    return tag(
        "svg", *shapes, viewbox=f"0 0 {_WIDE:.0f} {high:.0f}", role="img", aria_label="Lots without a place on earth"
    )


def _link(place: int, row: LotRow, looks: Mapping[str, StateLook], *inside: str) -> Markup:
    told = tag("title", f"{one_line(row.name)}: {looks[row.state].word}")
    return tag("a", told, *inside, href=f"#lot-{place}") if place < MOST_ROWS else tag("g", told, *inside)
