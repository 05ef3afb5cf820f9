"""An as-laid check in; its screen or JSON out."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import numpy as np

from siteplan import units
from siteplan.books.practice import FIXED_AGREE
from siteplan.laid.design import UNNAMED, Design
from siteplan.laid.fit import CERTAIN
from siteplan.laid.judged import item_text, water_text
from siteplan.laid.verdict_values import AsBuilt, LaidLine, Place, Relay
from siteplan.sheets.wording import one_line

_VERDICTS = {
    "accept": "ACCEPT",
    "fix-paper": "THE PIPE IS RIGHT, THE PAPER IS NOT: FIX THE PAPER",
    "re-dig": "RE-DIG: do not backfill",
    "cannot-tell": "CANNOT TELL YET: do not backfill",
}

_NOTHING = {  # to relay, by verdict
    "accept": "Nothing needs relaying.",
    "fix-paper": "Nothing needs relaying.",
    "cannot-tell": "Nothing to relay by what was shot so far.",
    "re-dig": "No stretch is named for relaying: by the reasons above the designer decides.",
}
_GRADE = {
    "accept": "accepted, within the doubt of the shots",
    "fix-paper": "accepted, within the doubt of the shots",
    "re-dig": "it is not as it must be",
    "cannot-tell": "not proven yet",
}
PAPER = {
    "accept": "it says what lies there",
    "fix-paper": "to be mended",
    "re-dig": "to be mended",
    "cannot-tell": "not proven yet",
}


def asbuilt_as_json(result: AsBuilt, design: Design) -> str:
    """The check for programs, in metres.

    Parameters
    ----------
    result : AsBuilt
        The check.
    design : Design
        What it was checked against.

    Returns
    -------
    str
        One JSON object, keys in a fixed order.
    """

    def figure(value: float | None) -> float | None:
        return None if value is None else round(float(value), 6) + 0.0

    def span(place: Place) -> dict[str, Any]:
        return {
            "line": place.line,
            "station_from": figure(place.station_from),
            "station_to": figure(place.station_to),
            "why": place.why,
        }

    record = {
        "verdict": result.verdict,
        "grade": result.grade,
        "paper": result.paper,
        "datum_shift": figure(result.datum_shift),
        "swapped": result.turned == "swapped",
        "mirrored": result.turned == "mirrored",
        "bellies": [
            {
                "line": line.design.id,
                "station_from": figure(belly.station_from),
                "station_to": figure(belly.station_to),
                "depth": figure(belly.depth),
                "length": figure(belly.length),
                "share_of_bore": figure(belly.depth / line.design.bore),
                "lowest": figure(belly.lowest),
                "doubt": figure(belly.doubt),
                "certain": belly.certain,
                "back_fall_percent": figure(belly.back_fall * 100),
            }
            for line in result.lines
            for belly in line.bellies
        ],
        "missing": [item_text(item, design.unit) for item in result.missing],
        "reshoot": [shot_place_text(place, design.unit) for place in result.reshoot],
        "relay": [
            {
                "line": one.line,
                "station_from": figure(one.station_from),
                "station_to": figure(one.station_to),
                "why": ", ".join(one.whys),
                "invert_from": figure(one.low),
                "invert_to": figure(one.high),
                "grade_percent": None if one.grade is None else figure(one.grade * 100),
                "designed_percent": None if one.designed is None else figure(one.designed * 100),
                "anew": [figure(at) for at in one.anew],
            }
            for one in result.relay
        ],
        "reopened": list(result.reopened),
        "reshoot_places": [span(place) for place in result.reshoot],
        "moved": [{"name": item.name, "kind": item.kind, "distance": figure(far)} for item, far in result.moved],
        "unjudged": [item_text(item, design.unit) for item in result.unjudged],
        "reasons": [{"asks_for": one.asks_for, "about": one.about, "text": one.text} for one in result.reasons],
        "fixed": [{"name": item.name, "shift": figure(shift)} for item, _, shift in result.fixed],
        "lines": [_line_record(line, figure) for line in result.lines],
        "outlets": [
            {"line": one.line, "against": one.against, "planned": figure(one.planned), "laid": figure(one.laid)}
            for one in result.outlets
        ],
        "crossed": list(result.crossed),
        "notes": list(result.notes),
        "set_up": result.set_up.hi_text,
        "assumptions": list(result.assumptions),
        "unit": "m",
    }
    return json.dumps(record, indent=1, ensure_ascii=False, allow_nan=False)


def _line_record(line: LaidLine, figure: Any) -> dict[str, Any]:
    fit = line.fit
    return {
        "line": line.design.id,
        "shots": len(line.shots),
        "shot_doubt": None if fit is None else figure(fit.doubt),
        "scatter": None if fit is None else figure(fit.scatter),
        "scatter_allowed": None if fit is None else figure(fit.allowed),
        "smallest_belly": figure(line.smallest),
        "widest_gap": None if fit is None else figure(float(np.diff(fit.station).max())),
        "beside": None if line.aside is None else figure(line.aside[1]),
        "left_out": [
            {"row": one.row, "name": one.name, "station": figure(one.station), "off": figure(one.off), "why": one.why}
            for one in line.asked
        ],
        "stations": []
        if fit is None
        else [
            {"station": figure(s), "invert": figure(z), "design": figure(d), "off": figure(z - d), "fitted": figure(f)}
            for s, z, d, f in zip(fit.station, fit.shot, fit.design, fit.fitted, strict=True)
        ],
        "reaches": [
            {
                "station_from": figure(piece.station_from),
                "station_to": figure(piece.station_to),
                "grade_percent": figure(piece.grade * 100),
                "doubt_percent": figure(CERTAIN * piece.doubt * 100),
                "says": piece.says,
                "least_percent": figure(piece.least * 100),
                "designed_percent": figure(piece.designed * 100),
            }
            for piece in line.pieces
        ],
    }


def shot_place_text(place: Place, unit: str) -> str:
    """A place as it is spoken of.

    Parameters
    ----------
    place : Place
        A place.
    unit : str
        'ft', 'us-ft' or 'm'.

    Returns
    -------
    str
        Line, stations and why.
    """
    if place.station_from is None or place.station_to is None:
        return place.why
    first, last = (units.station_text(s, unit) for s in (place.station_from, place.station_to))
    who = "" if place.line in {"", UNNAMED} else f"{place.line} "
    return f"{who}{first if first == last else f'{first} to {last}'}: {place.why}"


def _relay_text(one: Relay, design: Design) -> str:
    """An order to relay: from where to where, why, and the grade that its ends leave."""
    unit, high = design.unit, design.elevation_unit
    place = Place(line=one.line, station_from=one.station_from, station_to=one.station_to, why=", ".join(one.whys))
    text = shot_place_text(place, unit)
    if one.low is None or one.high is None or one.grade is None or one.designed is None:
        return (
            f"{text}; no lawful grade lies between any two ends that were shot: how far to relay the designer decides"
        )
    text += (
        f"; from {units.length_text(one.low, high)} to {units.length_text(one.high, high)} it can be laid at "
        f"{units.grade_text(one.grade)} "
        f"(designed {units.grade_text(one.designed)})"
    )
    if one.anew:
        text += f"; {' and '.join(units.station_text(at, unit) for at in one.anew)} set anew"
    return text


def _else_text(result: AsBuilt) -> str:
    """What is to be relaid beside what is listed."""
    if result.reopened or any(one.low is None for one in result.relay):
        return "Whether more is to be relaid the designer decides, by the reasons above."
    if any(one.asks_for == "cannot-tell" and one.about == "grade" for one in result.reasons):
        return "Nothing else to relay by what was shot so far."
    return "Nothing else to relay."


def asbuilt_as_text(result: AsBuilt, design: Design) -> str:
    """The check as a screen.

    Parameters
    ----------
    result : AsBuilt
        The check.
    design : Design
        What it was checked against.

    Returns
    -------
    str
        Lines without a trailing newline.
    """
    unit = design.unit
    out = [_VERDICTS[result.verdict]]
    out.append(f"  Grade: {_GRADE[result.grade]}. Paper: {PAPER[result.paper]}.")
    out += [f"  [{one.asks_for}] {one.text}" for one in result.reasons]
    if not result.reasons:
        out.append("  Every line falls all the way, within the doubt of its shots, and lies within its tolerance.")
    out += [f"  {_claim(line, unit)}" for line in result.lines if line.fit is not None]
    if result.set_up.hi_text:
        out.append(f"  {result.set_up.hi_text}")
    out += _datum_text(result)
    for line in result.lines:
        out += _line_text(line, design)
    out += _listed(
        "Relay",
        [_relay_text(one, design) for one in result.relay],
        _NOTHING[result.verdict] if not result.relay else _else_text(result),
    )
    out += _listed("What crosses there", list(result.crossed), "")
    out += _listed("Shoot again", [shot_place_text(place, unit) for place in result.reshoot], "")
    out += _listed("Missing", [item_text(item, unit) for item in result.missing], "")
    out += _listed("Not judged, for the shots bear no names", [item_text(item, unit) for item in result.unjudged], "")
    out += _listed("On no line", [f"row {shot.row} {shot.name}".strip() for shot in result.stray], "")
    out += _listed("Noted", list(result.notes), "")
    out += _listed("Assumed", list(result.assumptions), "")
    return "\n".join(one_line_kept(line) for line in out)


def _datum_text(result: AsBuilt) -> list[str]:
    """What the fixed objects say of the datum, where the reasons do not say it."""
    if result.datum_shift is None:
        return ["  Datum: no fixed object of the plan was shot; a shift of the datum would not be seen."]
    if result.datum_shift != 0:
        return []
    each = [by for _, _, by in result.fixed]
    if max(each) - min(each) > FIXED_AGREE or max(each) > FIXED_AGREE or min(each) < -FIXED_AGREE:
        return ["  Datum: not settled, by the reasons above."]
    many = len(each) > 1
    return [f"  Datum: {len(each)} fixed object{'s' if many else ''} agree{'' if many else 's'} with the plan."]


def one_line_kept(text: str) -> str:
    """A line of the screen, its indent kept and user text on one line.

    Parameters
    ----------
    text : str
        One line.

    Returns
    -------
    str
        Printable.
    """
    return " " * (len(text) - len(text.lstrip(" "))) + "".join(c if c.isprintable() else " " for c in text.strip())


def _listed(title: str, items: Sequence[str], after: str) -> list[str]:
    lines = [f"{title}:", *(f"  - {item}" for item in items)] if items else []
    return [*lines, *([after] if after else [])]


def _claim(line: LaidLine, unit: str) -> str:
    """What the shots of a line can show: the smallest belly, and what lies between them."""
    fit = line.fit
    assert fit is not None
    widest = units.length_text(float(np.diff(fit.station).max()), unit, 1)
    shown = (
        ""
        if line.smallest is None
        else f" a belly shows from {water_text(line.smallest, unit)} of water on where a shot stands in it;"
    )
    who = "Shots" if line.design.id == UNNAMED else f"{one_line(line.design.id)}: shots"
    return f"{who} up to {widest} apart:{shown} what dips between two shots is not seen."


def _line_text(line: LaidLine, design: Design) -> list[str]:
    fit, unit, high = line.fit, design.unit, design.elevation_unit
    name = one_line(line.design.id)
    if fit is None:
        return [f"{name.capitalize() if name == UNNAMED else name}: {len(line.shots)} shots, too few to judge"]
    fits = "fit the design as one line" if fit.scatter <= fit.allowed + 1e-6 else "do not fit the design as one line"
    digits = 3 if unit == "m" else 2
    head = (
        f"{name.capitalize() if name == UNNAMED else name}: {len(fit.station)} shots, doubt "
        f"{units.length_text(fit.doubt, unit, 3)} each; together they {fits}"
    )
    out = [head, f"  {'station':>10} {'invert':>9} {'design':>9} {'off':>7}  grade to the next, +- doubt of two shots"]
    grades = {pair.station_from: pair for pair in line.pairs}
    for s, z, d in zip(fit.station, fit.shot, fit.design, strict=True):
        invert, planned, off = (units.from_metres(float(value), high) for value in (z, d, z - d))
        pair = grades.get(float(s))
        graded = "" if pair is None else f"{pair.grade * 100:6.2f} % +- {pair.doubt * 100:.2f}"
        out.append(
            (
                f"  {units.station_text(float(s), unit):>10} {invert:9.{digits}f} {planned:9.{digits}f} "
                f"{round(off, digits) + 0.0:+7.{digits}f}  {graded}"
            ).rstrip()
        )
    for piece in line.pieces:
        first, last = (units.station_text(at, unit) for at in (piece.station_from, piece.station_to))
        out.append(
            f"  {first} to {last} {piece.says}: {units.grade_text(piece.grade)} +- {CERTAIN * piece.doubt * 100:.2f} %"
        )
    return out
