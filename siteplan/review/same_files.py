"""A stored plan in; whether plan.json, the schedule, the map and the sheet's words say the same out."""

from __future__ import annotations

import base64
import csv
import hashlib
import io
import itertools
import json
import re
import struct
import zlib
from collections.abc import Iterator
from functools import partial
from typing import Any

from siteplan.review.alike import first_difference, record_differences
from siteplan.review.reviewed import Reviewed, finding, made_or_why
from siteplan.site import Site
from siteplan.stored.folder_of import StoredPlan

_SAVED_AGAIN = "is not as written, byte by byte: somebody saved it again. Its {} are those of plan.json"
_MOST = 12  # differences told of one file; the first ones show where to look
_DATA = re.compile(r'<script type="application/json" id="plan-data">(.*?)</script>', re.DOTALL)
_SCRIPT = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_READ = ("plan.json", "map.html", "trench_schedule.csv")  # sheets of which differences are named figure by figure
_PICTURE = re.compile(r"(data:image/png;base64,)([A-Za-z0-9+/=]+)")
_PNG = b"\x89PNG\r\n\x1a\n"
_MOST_PIXELS = 2**26  # bytes
_DIGEST = re.compile(r"'sha256-[A-Za-z0-9+/=]+'")


def plan_file_findings(stored: StoredPlan, site: Site) -> Iterator[Reviewed]:
    """Whether plan.json is as this program writes the same figures: nothing slipped in, nothing left out.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site
        As surveyed.

    Yields
    ------
    Reviewed
        The first differences, or one pass.
    """
    from siteplan.sheets.plan_json import plan_json

    try:
        own = json.loads(plan_json(stored.plan, site))
    except ValueError as error:
        yield finding("plan-file", "plan.json", "fail", f"cannot be written again: {error}", "plan.json")
        return
    told = [one for one in record_differences(stored.record, own) if not one[0].startswith("rules")]
    for where, stated, found in told[:_MOST]:
        yield finding(
            "plan-file",
            _subject(stored, where, "plan.json"),
            "fail",
            f"plan.json, {_spoken(stored, where)}: {stated}; by its other figures {found}",
            where,
        )
    if not told:
        yield finding("plan-file", "plan.json", "pass", "plan.json is written as this program writes it")


def folder_findings(stored: StoredPlan) -> Iterator[Reviewed]:
    """What else lies in the plan folder: nobody has checked it, and a crew may take it for a sheet of this plan.

    Parameters
    ----------
    stored : StoredPlan
        For its folder.

    Yields
    ------
    Reviewed
        A flag for each thing that is none of the plan's files.
    """
    from siteplan.offered import NAMES

    entries = sorted(stored.folder.iterdir())
    if all(entry.name in NAMES for entry in entries):
        yield finding("extra-file", "plan", "pass", "nothing else lies in the plan folder")
    for entry in entries:
        name = entry.name
        if name not in NAMES:
            what = "folder" if entry.is_dir() else "file"
            yield finding(
                "extra-file",
                name[:60],
                "flag",
                f"a {what} of this name is no part of the plan: nothing in it was checked",
                name[:60],
            )


def other_sheet_findings(stored: StoredPlan, site: Site | None) -> Iterator[Reviewed]:
    """Whether sheets that are not read figure by figure are what this program writes of the same plan, to the byte.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site or None
        As surveyed; without it such a sheet cannot be compared.

    Yields
    ------
    Reviewed
        One for each sheet of the table that has no reader here.
    """
    from siteplan.offered import SHEETS

    for sheet in (one for one in SHEETS if one.name not in _READ):
        path, name = stored.folder / sheet.name, sheet.name
        if not path.is_file():
            yield finding("sheet", name, "fail", f"the plan folder holds no {name}", name)
        elif site is None:
            yield finding("sheet", name, "flag", f"{name} is not compared: the site was not given", name)
        else:
            made, why = made_or_why(partial(sheet.make, stored.plan, site))
            same = made == path.read_bytes()
            said = "is" if same else f"cannot be made again: {why}" if made is None else "is not"
            told = said if made is None else f"{said} what plan.json gives, byte for byte"
            yield finding("sheet", name, "pass" if same else "fail", f"{name} {told}", name)


def _subject(stored: StoredPlan, where: str, file: str) -> str:
    """The line that a place in a file belongs to, else the file."""
    found = re.match(r"(?:data\.)?lines (\d+)", where)
    if found and int(found[1]) <= len(stored.plan.every_line):
        return stored.plan.every_line[int(found[1]) - 1].id
    return file


def _spoken(stored: StoredPlan, where: str) -> str:
    return re.sub(r"^lines \d+", f"line {_subject(stored, where, 'plan.json')}", where)


def schedule_findings(stored: StoredPlan) -> Iterator[Reviewed]:
    """Whether the trench schedule states what plan.json states.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.

    Yields
    ------
    Reviewed
        Row and column of each difference, or one pass.
    """
    from siteplan.sheets.schedule import trench_schedule

    name = "trench_schedule.csv"
    path = stored.folder / name
    if not path.is_file():
        yield finding("schedule", name, "fail", "the plan folder holds no trench schedule", name)
        return
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
        theirs = list(csv.reader(io.StringIO(text)))
    except (UnicodeDecodeError, csv.Error) as error:
        yield finding("schedule", name, "fail", f"cannot be read: {error}", name)
        return
    made, why = made_or_why(lambda: trench_schedule(stored.plan))
    if made is None:
        yield finding("schedule", name, "fail", f"plan.json gives no trench schedule: {why}", name)
        return
    own = list(csv.reader(io.StringIO(made.decode("utf-8-sig"))))
    told = [*_rows_differ(theirs, own)]
    for where, line, message in told[:_MOST]:
        yield finding("schedule", line or name, "fail", f"trench_schedule.csv, {where}: {message}", where)
    if not told:
        yield finding(
            "schedule", name, "pass", f"{len(own) - 1} rows of the trench schedule state what plan.json states"
        )
        if raw != made:
            yield finding("schedule", name, "flag", _SAVED_AGAIN.format("cells"), name)


def _rows_differ(theirs: list[list[str]], own: list[list[str]]) -> Iterator[tuple[str, str, str]]:
    head = own[0]
    if not theirs or theirs[0] != head:
        yield "header", "", "its columns are not those of a trench schedule of ours"
        return
    if len(theirs) != len(own):
        yield "rows", "", f"{len(theirs) - 1} rows, plan.json gives {len(own) - 1}"
    for number, (a, b) in enumerate(zip(theirs[1:], own[1:], strict=False), 2):
        line = b[0] if b else ""
        # cell by cell as written, those past the last column too: both come from one plan.json
        for place, (stated, found) in enumerate(itertools.zip_longest(a, b, fillvalue="")):
            column = head[place] if place < len(head) else f"a cell past the last column ({place + 1})"
            if stated != found:
                where = f"row {number} ({line} {b[2] if len(b) > 2 else ''})"
                yield where, line, f"{column} is {stated[:60]!r}, plan.json gives {found[:60]!r}"
                break


def map_findings(stored: StoredPlan, site: Site | None) -> Iterator[Reviewed]:
    """Whether the map shows what plan.json states.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site or None
        As surveyed; without it the map's lines alone are compared.

    Yields
    ------
    Reviewed
        Each difference, or one pass.
    """
    name = "map.html"
    path = stored.folder / name
    if not path.is_file():
        yield finding("map", name, "fail", "the plan folder holds no map", name)
        return
    raw = path.read_bytes().decode("utf-8", "replace")
    page = _by_pixels(raw)
    block = _DATA.search(page)
    try:
        data = json.loads(block[1]) if block else None
    except ValueError:
        data = None
    if data is None:
        yield finding("map", name, "fail", "the map's data cannot be read", name)
        return
    made, why = ("", "") if site is None else _own_page(stored, site)
    told = [*(_page_differs(raw, page, data, made, why) if site is not None else _lines_differ(data, stored))]
    for where, stated, found in told[:_MOST]:
        yield finding(
            "map",
            _subject(stored, where, name),
            "fail",
            f"map.html, {where}: shows {stated!r}, plan.json gives {found!r}",
            where,
        )
    if not told:
        what = "the map and its data show" if site is not None else "the map's lines show"
        yield finding("map", name, "pass", f"{what} what plan.json states")
        if made and _DIGEST.sub("#", made) != _DIGEST.sub("#", page):
            yield finding("map", name, "flag", _SAVED_AGAIN.format("words and figures"), name)


def _own_page(stored: StoredPlan, site: Site) -> tuple[str, str]:
    from siteplan.offered import whole_map

    made, why = made_or_why(lambda: _by_pixels(whole_map(stored.plan, site).decode("utf-8")))
    return made or "", why


def _by_pixels(page: str) -> str:
    """The page with its pictures unpacked: two builds of the packer make other bytes of the same pixels."""
    return _PICTURE.sub(lambda found: f"{found[1]}{_unpacked(found[2])}", page)


def _unpacked(packed: str) -> str:
    """A digest of what a PNG's parts hold, packed pixels unpacked; as it stands where it is none."""
    try:
        raw, parts, at = base64.b64decode(packed, validate=True), [], len(_PNG)
        if not raw.startswith(_PNG):
            return packed
        while at < len(raw):
            (size,) = struct.unpack_from(">I", raw, at)
            kind, held = raw[at + 4 : at + 8], raw[at + 8 : at + 8 + size]
            (digest,) = struct.unpack_from(">I", raw, at + 8 + size)
            if digest != zlib.crc32(kind + held) or len(held) != size:
                return packed
            parts.append(kind + (_pixels(held) if kind == b"IDAT" else held))
            at += 12 + size
    except (ValueError, struct.error, zlib.error):
        return packed
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _pixels(held: bytes) -> bytes:
    """Unpacked, at most what a map's picture can hold; what stands behind the end of the packing is told apart."""
    work = zlib.decompressobj()
    out = work.decompress(held, _MOST_PIXELS)
    if not work.eof:
        raise ValueError("a picture without an end")
    return out + b"|" + work.unused_data


def _page_differs(raw: str, page: str, data: Any, made: str, why: str) -> Iterator[tuple[str, str, str]]:
    if not made:
        yield "page", "a map", f"none: {why}"
        return
    own_block = _DATA.search(made)
    assert own_block is not None
    yield from record_differences(data, json.loads(own_block[1]), "data")
    bare, own = (_bare(one) for one in (page, made))
    if bare != own:
        yield "page", *first_difference(bare, own)
    digests = {
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in _SCRIPT.findall(raw)
    }
    if not digests <= set(_DIGEST.findall(raw)):
        yield "page", "a script that its own policy does not name", "none such"


def _bare(page: str) -> str:
    """The page without its data block and the digests of scripts, which follow from the rest."""
    return _DIGEST.sub("#", _DATA.sub("", page, count=1)).replace("\r\n", "\n")


def _lines_differ(data: Any, stored: StoredPlan) -> Iterator[tuple[str, str, str]]:
    """The map's readings of each line against the plan's own vertices."""
    import numpy as np

    shown = data.get("lines") if isinstance(data, dict) else None
    if not isinstance(shown, list) or len(shown) != len(stored.plan.every_line):
        yield (
            "lines",
            f"{len(shown) if isinstance(shown, list) else 'no'} lines",
            f"{len(stored.plan.every_line)} lines",
        )
        return
    for number, (one, line) in enumerate(zip(shown, stored.plan.every_line, strict=True), 1):
        chart = next((part for part in _parts(one) if {"station", "invert"} <= set(part)), None)
        if chart is None:
            yield f"lines {number}", "no readings", "readings"
            continue
        at = np.array([vertex.station for vertex in line.vertices])
        inverts = np.interp(np.array(chart["station"], float), at, [vertex.invert for vertex in line.vertices])
        away = np.abs(inverts - np.array(chart["invert"], float))
        worst = int(np.argmax(away))
        if away[worst] > 0.01:
            yield (
                f"lines {number} at {chart['station'][worst]} m",
                f"invert {chart['invert'][worst]}",
                f"invert {inverts[worst]:.4f}",
            )


def _parts(value: Any) -> Iterator[dict[str, Any]]:
    if isinstance(value, dict):
        yield value
        for item in value.values():
            yield from _parts(item)
    elif isinstance(value, list):
        for item in value:
            yield from _parts(item)


def text_findings(stored: StoredPlan, site: Site | None) -> Iterator[Reviewed]:
    """What the sheet must say in words, and what it leaves blank.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site or None
        As surveyed.

    Yields
    ------
    Reviewed
        Fails for words that were taken out, flags for blanks.
    """
    from siteplan.sheets.caution_words import cautions

    plan = stored.plan
    ours = cautions(plan.length_unit, pumped=bool(plan.pressed))
    said = set(plan.assumptions)
    for caution in ours:
        if caution not in plan.cautions:
            yield finding("sheet-text", "cautions", "fail", f"a caution was taken out or edited: {caution[:90]}")
    for text in plan.cautions:
        if text not in ours:
            yield finding("sheet-text", "cautions", "flag", f"a caution that is not ours: {text[:90]}")
    if not set(ours) ^ set(plan.cautions) and plan.cautions != ours:
        yield finding("sheet-text", "cautions", "fail", "the cautions stand in another order, or one twice")
    for text in sorted(text for text in said if plan.assumptions.count(text) > 1):
        yield finding("sheet-text", "assumptions", "fail", f"an assumption stands twice: {text[:120]}")
    wanted = [
        *(site.assumptions if site is not None else ()),
        *(f"{outlet.name}: {outlet.basis}." for outlet in plan.outlets),
    ]
    if plan.cautions == ours:
        yield finding("sheet-text", "cautions", "pass", f"{len(ours)} cautions stand as they were made")
    if said.issuperset(wanted) and site is not None:
        yield finding("sheet-text", "assumptions", "pass", f"{len(wanted)} assumptions stand as they were made")
    for text in wanted:
        if text not in said:
            yield finding("sheet-text", "assumptions", "fail", f"an assumption was taken out or edited: {text[:120]}")
    yield from _blanks(stored)


def _blanks(stored: StoredPlan) -> Iterator[Reviewed]:
    plan = stored.plan
    if plan.stamp is None:
        yield finding("sheet-blank", "plan", "flag", "the sheets bear no date (siteplan plan --date)")
    for source in plan.sources:
        if plan.inflows.of(source.id) is None:
            yield finding("sheet-blank", source.id, "flag", f"{source.name or source.id}: what it carries is not known")
    for line in plan.every_line:
        blank = [row for row in line.rows if row.ground != row.ground]
        if blank:
            yield finding(
                "sheet-blank",
                line.id,
                "flag",
                f"{len(blank)} stations whose ground is not known: cut and cover are blank",
            )
        for crossing in line.crossings:
            if crossing.kind == "utility" and crossing.depth is None:
                yield finding(
                    "sheet-blank",
                    line.id,
                    "flag",
                    (
                        f"{crossing.name or 'a utility'} is crossed, its depth is not on the sheet: expose it "
                        "before grade is final"
                    ),
                    f"{crossing.station_from:.2f} to {crossing.station_to:.2f} m",
                )
    yield finding(
        "sheet-blank",
        "plan",
        "flag",
        "permit, easement consent, locate ticket and approval are not on the sheet: the check sheet has lines for them",
    )
