"""What a site folder lacks in; what a person reads of it, and the same for programs, out."""

from __future__ import annotations

import json
import math

from siteplan.begin.lacking import PURPOSES, Lack, Lacking
from siteplan.sheets.wording import one_line
from siteplan.survey.plat_image import PlatImage

_HEADS = {
    "plan": "A plan goes on without, and assumes:",
    "capacity": "For the capacity of its pipes:",
    "belly": "For a belly forecast:",
}


def check_as_text(found: Lacking) -> str:
    """What is missing, in the order of what helps most.

    Parameters
    ----------
    found : Lacking
        From `check_site`.

    Returns
    -------
    str
        A line a thing and a line how to mend it.
    """
    called = found.name or "This folder"
    lines = [f"{called}: ready for a plan." if found.ready else f"{called}: not ready for a plan."]
    barring = [one for one in found.missing if one.blocks]
    if barring:
        lines += ["", "No plan without:", *_rows(barring)]
    for purpose in PURPOSES:
        rows = [one for one in found.missing if one.needed_for == purpose and not one.blocks]
        if rows:
            lines += ["", _HEADS[purpose], *_rows(rows)]
    if not found.missing:
        lines += ["", "Nothing is missing."]
    if found.shots:
        count = "The shot" if len(found.shots) == 1 else f"The {len(found.shots)} shots"
        lines += ["", f"{count} to take first ({found.survey}):"]
        lines += [f"  {number}. {one.place}: {one.why}" for number, one in enumerate(found.shots, 1)]
    elif found.ready:
        lines += [
            "",
            (
                "No further shot would change a verdict: the lines are sure, and what is short is short by more "
                "than the survey's doubt."
            ),
        ]
    if found.plat is not None:
        lines += ["", *_underlay(found.plat)]
    return "\n".join(lines)


def _underlay(plat: PlatImage) -> list[str]:
    """Where an image to draw over lies, and how well its known points fit."""
    name, fit = one_line(plat.path.name), plat.fitted
    if fit is None:
        return [
            f"{name} is to draw over and has no place yet: give [plat] image_points, two known points, better three."
        ]
    (west, north), (east, south) = fit.place(0, 0), fit.place(plat.size.wide, plat.size.high)
    off = [math.hypot(*one) for one in fit.residuals]
    fits = (
        f"its points fit to {max(off):.3f}, point {off.index(max(off)) + 1} worst"
        if fit.checked
        else "two points leave nothing to check it by: give a third"
    )
    return [
        (
            f"{name} lies from N {north:.2f} E {west:.2f} (upper left) to N {south:.2f} E {east:.2f} (lower "
            f"right), {fit.scale:.5g} of the survey's units a pixel; {fits}."
        ),
        (
            f"A pick that is one pixel off moves its farthest corner by {fit.corner:.1f} pixels. It is drawn over "
            "and never read as data."
        ),
    ]


def _rows(rows: list[Lack]) -> list[str]:
    return [text for one in rows for text in (f"  - {one.what}", f"    {one.mend}")]


def check_as_json(found: Lacking) -> str:
    """The same for programs.

    Parameters
    ----------
    found : Lacking
        From `check_site`.

    Returns
    -------
    str
        ready, missing [{what, needed_for, mend, blocks}], shots [{x, y, why}] in the survey's own system, which
        `survey` names.
    """
    told = {
        "ready": found.ready,
        "missing": [one._asdict() for one in found.missing],
        "shots": [{"x": one.x, "y": one.y, "place": one.place, "why": one.why} for one in found.shots],
        "survey": found.survey,
    }
    return json.dumps(told, indent=1, ensure_ascii=False)
