"""Lines of one's own as values in; as plan.json carries them out."""

from __future__ import annotations

import math
from typing import Any

from siteplan.values.own_drawn import OwnLines, OwnMend, PlannersOwn

_DIGITS = 6  # of a metre


def own_json(own: OwnLines) -> dict[str, Any]:
    """Drawn lines that end at one outlet together.

    Parameters
    ----------
    own : OwnLines
        Of the plan.

    Returns
    -------
    dict
        Lengths in metres; `stored.own_of` reads it back.
    """
    return {
        "drawn": [
            {
                "line": one.line,
                "name": one.name,
                "source": one.source,
                "outlet": one.outlet,
                "mode": one.mode,
                "inverts": one.inverts,
                "meets": one.meets,
                "off": _figure(one.off),
            }
            for one in own.drawn
        ],
        "cost": _figure(own.cost),
        "length": _figure(own.length),
        "planner": None if own.planner is None else _planner(own.planner),
        "fails": list(own.fails),
        "mends": [_mend(one) for one in own.mends],
    }


def _planner(one: PlannersOwn) -> dict[str, Any]:
    return {
        "cost": _figure(one.cost),
        "length": _figure(one.length),
        "spare": _figure(one.spare),
        "outlets": list(one.outlets),
        "lines": one.lines,
    }


def _mend(one: OwnMend) -> dict[str, Any]:
    return {
        "changes": [{"kind": each.kind, "line": each.line, "amount": _figure(each.amount)} for each in one.changes],
        "lines": [
            {
                "line": each.line,
                "pipe": {"kind": each.pipe, "nominal": each.nominal},
                "vertices": [{"x": _figure(x), "y": _figure(y), "invert": _figure(z)} for x, y, z in each.vertices],
            }
            for each in one.lines
        ],
        "cost": _figure(one.cost),
        "proven": not one.left,
        "left": list(one.left),
    }


def _figure(value: float | None) -> float | None:
    """A figure to the micrometre; one that is none is not written."""
    return None if value is None or not math.isfinite(value) else round(value, _DIGITS) + 0.0
