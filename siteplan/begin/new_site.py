"""Whatever there is of a lot in; a commented site folder out, in which nothing is guessed.

Proven, answered, or left open.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from siteplan.begin.given import Copy, Found, Given, found_in
from siteplan.begin.settled import Settled, settled_keys, unit_words
from siteplan.errors import InputError
from siteplan.sheets.writing import write_folder
from siteplan.survey.files import said
from siteplan.survey.settings import SITE_FILE

_DRAWN = "features.geojson"
PROPOSED_FILE = "corners.geojson"
_TYPED = "shots.csv"
_PDF, _PAGE = "plat.pdf", "plat.png"
_HEADER = "point,northing,easting,elevation,description\n"
_MOST_BYTES = 2 * 2**30


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSite:
    """What was written.

    Attributes
    ----------
    files : tuple of (str, str, str)
        Name in the folder, the name that it was copied from ('' one of ours), SHA-256.
    settled : dict of str to Settled
        Keys with their reason, or their question.
    """

    files: tuple[tuple[str, str, str], ...]
    settled: dict[str, Settled]

    @property
    def open_keys(self) -> tuple[str, ...]:
        """Keys whose questions stay open."""
        return tuple(key for key, one in self.settled.items() if one.value is None)


def new_site(folder: Path, given: Given) -> NewSite:
    """Begin a site folder.

    Parameters
    ----------
    folder : Path
        Must not exist, or be empty; its parent must exist.
    given : Given
        Files and answers; with none of them a starter with a table for typed heights and an empty drawing.

    Returns
    -------
    NewSite
        What was written, whole or not at all.

    Raises
    ------
    InputError, InputErrors
        If anything given cannot be read, or something stands in the folder; nothing is written then.
    """
    folder = Path(folder)
    if folder.is_dir() and any(folder.iterdir()):
        raise InputError(said(folder, 200), "is not empty", "Name a new folder: nothing is ever written over.")
    if folder.exists() and not folder.is_dir():
        raise InputError(said(folder, 200), "is a file", "Name a new folder.")
    if not folder.resolve().parent.is_dir():
        raise InputError(
            said(folder, 200), "would stand in a folder that is not there", "Make that folder first, or name another."
        )
    found = found_in(given)
    settled = settled_keys(given, found)
    if given.points is not None and given.tin is not None:
        why = (
            "Points and a surface are given, and the ground is drawn from one list of shots. Which one? The "
            "other stays in the folder."
        )
        settled["shots"] = Settled(None, why)
    proposed = _proposed(given, found, settled)
    contents: dict[str, bytes] = {}
    origins: dict[str, str] = {}
    for rows in found.copies.values():
        for copy in rows:
            contents[copy.name] = _bytes(copy)
            origins[copy.name] = said(copy.path.name)
    if not {"points", "tin", "grid"} & set(found.copies):
        contents[_TYPED] = _HEADER.encode()
    if "features" not in found.copies:
        contents[_DRAWN] = _empty_drawing(settled["crs"])
    if proposed is not None:
        contents[PROPOSED_FILE] = proposed
    if found.page_image is not None:
        contents[_PAGE] = found.page_image
        origins[_PAGE] = f"page {given.page} of {origins[_PDF]}"
    files = tuple(
        (name, origins.get(name, ""), hashlib.sha256(content).hexdigest()) for name, content in sorted(contents.items())
    )
    name = said(given.name or folder.resolve().name) or "new lot"
    text = "\n".join(_site_text(name, given, found, settled, files)) + "\n"
    contents[SITE_FILE] = text.encode("utf-8")
    write_folder(folder, contents, names=contents, ours=lambda _: False, kind="site", mark=SITE_FILE)
    return NewSite(files=files, settled=settled)


def _bytes(copy: Copy) -> bytes:
    if copy.path.stat().st_size > _MOST_BYTES:
        raise InputError(said(copy.path, 200), "is larger than 2 GB", "Crop it to around the lot.")
    return copy.path.read_bytes()


def _empty_drawing(crs: Settled) -> bytes:
    """A drawing with nothing in it, in the site's own system."""
    held: dict[str, object] = {"type": "FeatureCollection"}
    if crs.value not in (None, "local"):
        held["crs"] = {"type": "name", "properties": {"name": crs.value}}
    return (json.dumps({**held, "features": []}, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _proposed(given: Given, found: Found, settled: dict[str, Settled]) -> bytes | None:
    """Lot and house by labelled corners as a drawing that nothing names yet.

    A person says whether they are what they seem.
    """
    crs = settled["crs"]
    if not found.outlines or given.features or given.deed is not None:
        return None
    told = "; ".join(
        f"shots {', '.join(said(shot, 20) for shot in one.shots)} close to a {one.name.lower()} of four corners"
        for one in found.outlines
    )
    if "points_unit" in settled:  # the list and the site are in different units, and the drawing would be in neither
        settled["corners"] = Settled(
            None,
            f"By their descriptions {told}. Begin again with --crs, and a drawing of them is made for you to confirm.",
        )
        return None
    what = " and ".join(one.name.lower() for one in found.outlines)
    # without a system the drawing names none: it is read in the site's, whatever the answer about that will be
    as_listed = (
        " in the list's own coordinates, which hold for an assumed grid and for a system named later"
        if crs.value is None
        else ""
    )
    settled["corners"] = Settled(
        None,
        (
            f"By their descriptions {told}, drawn in {PROPOSED_FILE}{as_listed}. Are they the {what}? Nothing "
            "reads that file until you name it."
        ),
    )
    features = [
        {
            "type": "Feature",
            "properties": {
                "kind": one.kind,
                "name": one.name,
                "note": f"by shots {', '.join(said(shot, 20) for shot in one.shots)}",
            },
            "geometry": {
                "type": "Polygon",
                "coordinates": [[[round(c, 6) for c in p] for p in (*one.corners, one.corners[0])]],
            },
        }
        for one in found.outlines
    ]
    held = json.loads(_empty_drawing(crs))
    return (json.dumps({**held, "features": features}, indent=1, ensure_ascii=False) + "\n").encode("utf-8")


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "")


def _key(key: str, one: Settled, example: str, hint: str = "") -> Iterator[str]:
    """A key with its reason; one that is open stays a comment under its question."""
    if one.value is not None:
        yield f"{key} = {_quoted(one.value)}  # {said(one.why, 400)}"
        return
    yield f"# OPEN: {said(one.why, 900)}{' ' + hint if hint else ''}"
    yield f"# {key} = {example}"


def _site_text(
    name: str, given: Given, found: Found, settled: dict[str, Settled], files: tuple[tuple[str, str, str], ...]
) -> Iterator[str]:
    """Lines of site.toml."""
    yield f"# {name}, begun by siteplan new. What follows a # is a comment."
    yield (
        "# Under OPEN stands a question that nothing given answers: take the # off the line below it and write "
        "the answer."
    )
    yield "# siteplan check tells what is still missing; docs/site-folder.md tells every key."
    yield f"name = {_quoted(name)}"
    yield ""
    yield from _key(
        "crs", settled["crs"], '"local"', 'An EPSG code such as "EPSG:6539", or "local" for an assumed grid.'
    )
    yield from _key("length_unit", settled["length_unit"], '"ft"', f"One of {unit_words()}.")
    yield from _key("elevation_unit", settled["elevation_unit"], '"ft"', f"One of {unit_words()}.")
    yield from _ground(given, found, settled)
    if "plat" in found.copies:
        yield from _plat(_PAGE if found.page_image is not None else found.copies["plat"][0].name)
    drawn = [copy.name for copy in found.copies.get("deed", ())]
    main = [copy.name for copy in found.copies.get("features", ()) if _is_main(copy)] or [_DRAWN]
    yield ""
    yield "[features]"
    if main == [_DRAWN] and "features" not in found.copies:
        yield (
            f"# {_DRAWN} is empty: draw the lot, the house, downspouts and sumps, outlets, utilities (kinds: "
            "docs/site-folder.md)."
        )
    yield f"files = [{', '.join(_quoted(one) for one in [*drawn, *main])}]"
    if "corners" in settled:
        yield f"# OPEN: {said(settled['corners'].why, 900)}"
    if any(name == PROPOSED_FILE for name, _, _ in files):
        yield "# If they are, write this in place of the line above:"
        yield f"# files = [{', '.join(_quoted(one) for one in [PROPOSED_FILE, *drawn, *main])}]"
    yield ""
    yield "# [rainfall]               # asked for by every flow and size of pipe"
    yield (
        "# intensity = 6.0          # in/h on a site in feet, mm/h on one in metres: 5 minutes long, of the "
        "return period that the code asks for"
    )
    yield '# source = "..."           # where it comes from; printed with every answer'
    yield ""
    yield "# [trench]                 # asked for by a belly forecast"
    yield '# wet_soil = "mineral"     # or "organic" (peat, muck)'
    yield '# house_backfill = "fresh" # or "settled"'
    yield ""
    yield "# [rules]                  # only what differs from the defaults: siteplan rules lists them"
    if any(origin for _, origin, _ in files):
        yield ""
        yield "# Copied whole, with their SHA-256:"
        yield from (f'# {file} from "{origin}" {digest}' for file, origin, digest in files if origin)


def _is_main(copy: Copy) -> bool:
    return copy.name.rpartition(".")[2] in {"geojson", "json", "csv", "txt", "gpkg", "shp", "deed"}


def _ground(given: Given, found: Found, settled: dict[str, Settled]) -> Iterator[str]:
    grid = found.copies.get("grid", ())
    shots = [found.copies[key][0].name for key in ("points", "tin") if key in found.copies]
    yield ""
    yield "[ground]"
    if grid:
        yield f"grid = {_quoted(grid[0].name)}"
    if "shots" in settled:
        yield f"# OPEN: {settled['shots'].why}"
        yield from (f"# shots = {_quoted(one)}" for one in shots)
    elif shots:
        yield f"shots = {_quoted(shots[0])}"
    elif not grid:
        yield (
            f"# {_TYPED} has a header alone: type point, northing, easting, elevation and description of each "
            "height, four or more."
        )
        yield f"shots = {_quoted(_TYPED)}"
    for key, example in (("points_order", '"north-first"'), ("points_unit", '"ft"'), ("points_elevation_unit", '"ft"')):
        if key in settled:
            hint = "The other features may answer it too." if key == "points_order" and not given.features else ""
            yield from _key(key, settled[key], example, hint)
    if "points_order" not in settled:
        yield from (f"# {said(one.why, 400)}" for one in found.proofs.get("points_order", ()))
    what = "of a cell of the grid" if grid else "of a shot"
    yield (
        f"# accuracy = 0.10          # one standard deviation {what}, in elevation_unit; assumed, and said, where "
        "it is not given"
    )
    if grid and shots:
        yield "# shots_accuracy = 0.02    # and of a shot"


def _plat(name: str) -> Iterator[str]:
    yield ""
    yield "[plat]"
    yield f"image = {_quoted(name)}       # to draw over; never read as data"
    if name.endswith(".pdf"):
        yield (
            "# A PDF has no pixels to pick: save its page as a PNG beside it and name that, or pip install "
            '"siteplan[pdf]" and begin again.'
        )
    yield (
        "# OPEN: where does it lie? Two known points, better three: column and row on the image, easting and northing."
    )
    yield "# image_points = [[120, 840, 5000.00, 2000.00], [1480, 96, 5120.00, 2080.00]]"
    yield "# sides = [60, 150, 60, 150]   # clockwise from the frontage, and area: evidence for the units of points"
