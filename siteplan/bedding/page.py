"""The tables of docs/bedding.md, made from the sums themselves so that the page cannot go stale."""

from __future__ import annotations

from collections.abc import Sequence

from siteplan import units
from siteplan.bedding import compare, hung, ring, weight
from siteplan.bedding.belly import WET_SOIL
from siteplan.books.stock import PipeStock, stock
from siteplan.books.vehicles import VEHICLES

_COVER = 1.5 * units.FOOT
_COLUMNS = {
    "pvc_sch40": "solid PVC",
    "pvc_sdr35": "sewer-grade PVC",
    "pvc_thin": "thin-wall PVC",
    "pe_corr_dual": "dual-wall corrugated",
    "pe_corr_single": "single-wall corrugated",
}


def tables() -> dict[str, str]:
    """Every table of the page by its name, as Markdown.

    Returns
    -------
    dict of str to str
        pools, jointed, short-patch, weights, covers, hangers.

    References
    ----------
    `compare.side_by_side`, `weight`, `ring.minimum_cover`, `hung.hanger_spacing`.
    """
    return {
        "pools": _pools(welded=True),
        "jointed": _pools(welded=None, kinds=("pvc_sch40", "pvc_sdr35")),
        "short-patch": _short_patch(),
        "weights": _weights(),
        "covers": _covers(),
        "hangers": _hangers(),
    }


def _four(kinds: Sequence[str]) -> list[PipeStock]:
    return [stock(kind, "4 in") for kind in kinds]


def _markdown(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def _inches(length: float) -> str:
    return f"{length / units.INCH + 0.0:.2f}"


def _cell(entry: compare.Entry) -> str:
    text = f"{_inches(entry.depth_long)} ({_inches(entry.depth_short)})"
    if entry.turn >= 0.05:
        text += f", joint {entry.turn:.1f}\u00b0"
    return f"**{text}**" if entry.shallowest else text


def _pools(*, welded: bool | None, kinds: Sequence[str] = compare.KINDS) -> str:
    entries = compare.side_by_side(_four(kinds), welded=welded)
    rows = [
        [ground.title, *(_cell(entry) for entry in entries if entry.ground == ground)] for ground in compare.GROUNDS
    ]
    return _markdown(["ground under the wet 10 ft", *(_COLUMNS[kind] for kind in kinds)], rows)


def _short_patch() -> str:
    rows = []
    for feet in (2, 4, 6, 10, 20):
        wet = (compare.LENGTH / 2 - feet / 2 * units.FOOT, compare.LENGTH / 2 + feet / 2 * units.FOOT)
        ground = compare.Ground(title="", modulus=200 * units.PSI, drop=1 * units.INCH, edge="sharp")
        entries = compare.side_by_side(_four(compare.KINDS), [ground], wet=wet)
        rows.append([f"{feet} ft", *(_cell(entry) for entry in entries)])
    return _markdown(["length of the dip", *(_COLUMNS[kind] for kind in compare.KINDS)], rows)


def _weights() -> str:
    asked: tuple[tuple[float, weight.Surround], ...] = ((0.0, "saturated"), (1.0, "saturated"), (1.0, "mud"))
    rows = []
    for pipe in _four(compare.KINDS):
        cells = [weight.force_text(weight.net_weight(pipe, fill, surround)) for fill, surround in asked]
        soil = (weight.bed_load(pipe, _COVER, WET_SOIL) - weight.weight_in_air(pipe, 1.0)) / units.POUND_PER_FOOT
        share = 100 * weight.pipe_share(pipe, _COVER, WET_SOIL)
        needed = [
            weight.flotation(pipe, _COVER, weight.lightest_wet(told)).cover_needed
            for told in (weight.MINERAL, weight.ORGANIC)
        ]
        held = [f"{one / units.INCH:.1f} in" for one in needed]
        rows.append([_COLUMNS[pipe.pipe.kind], *cells, f"{soil:.1f} lbf/ft", f"{share:.1f} %", *held])
    head = [
        "4 in pipe",
        "empty, under water",
        "full, under water",
        "full, in mud that flows",
        "18 in of wet soil on it",
    ]
    return _markdown(
        [
            *head,
            "pipe's share of the bed load",
            "wet mineral soil of 110 lbf/ft3 that holds it down empty",
            "peat of 75 that does",
        ],
        rows,
    )


def _covers() -> str:
    rows = []
    for kind, reaction in (
        ("pvc_thin", 200), ("pe_corr_single", 200), ("pvc_sdr35", 200), ("pvc_sch40", 200), ("pvc_sdr35", 1000),
    ):  # fmt: skip
        cells = []
        for wheel in VEHICLES:
            found = ring.minimum_cover(stock(kind, "4 in"), wheel, unit_weight=WET_SOIL, reaction=reaction * units.PSI)
            if found.by_sum is None:
                cells.append("no")
            elif found.by_sum < 3 * units.INCH:
                cells.append("under 3 in")
            else:
                cells.append(f"{found.by_sum / units.INCH:.0f} in")
        bed = "hand-tamped soil" if reaction == 200 else "compacted stone"
        rows.append([f"{_COLUMNS[kind]} in {bed}", *cells])
    return _markdown(["4 in pipe", *(wheel.title for wheel in VEHICLES)], rows)


def _hangers() -> str:
    rows = []
    for kind, nominal in (("pvc_sch40", "3 in"), ("pvc_sch40", "4 in"), ("pvc_sch40", "6 in"), ("pvc_sdr35", "4 in"), ("pe_corr_dual", "4 in"), ("pe_corr_single", "4 in")):  # fmt: skip
        pipe = stock(kind, nominal)
        found = hung.hanger_spacing(pipe)
        span = hung.hang(pipe, 4 * units.FOOT)
        rows.append(
            [
                f"{nominal} {_COLUMNS[kind]}",
                "carry on a tray" if found.use is None else f"{found.use / units.FOOT:g} ft",
                "it fails"
                if span.sag_short > span.span / 10
                else f"{_inches(span.sag_short)} in, {_inches(span.sag_long)} in",
                f"{found.by_grade / units.FOOT:.1f} ft",
            ]
        )
    return _markdown(
        ["pipe, full", "hanger every", "sag over 4 ft at once, after 50 years", "at 1 % it holds water beyond"], rows
    )
