"""A plan.json and the paper in; what the page lays over the drawing, out: lines, other layouts, verdicts."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from siteplan.survey.frame import crs_of, mover

if TYPE_CHECKING:
    from siteplan.survey.frame import Move
    from siteplan.table.folder_state import SheetOfPaper


def plan_on_paper(plan: Mapping[str, Any], paper: SheetOfPaper) -> dict[str, Any]:
    """A written plan as the page draws it.

    Parameters
    ----------
    plan : mapping
        plan.json.
    paper : SheetOfPaper
        What is drawn on.

    Returns
    -------
    dict
        lines, layouts, outlets found by the planner, findings that fail or are flagged, counts.
    """
    onto = _onto_paper(str(plan["site"]["crs"]), paper)
    findings = plan.get("checks", [])
    return {
        "lines": [_line(one, onto) for one in plan.get("lines", [])],
        "layouts": [
            {
                "number": one.get("number"),
                "title": one.get("title", ""),
                "chosen": bool(one.get("chosen")),
                "lines": [
                    _line(line, onto)
                    for line in one.get("lines", [])
                    if isinstance(line, Mapping) and line.get("vertices")
                ],
            }
            for one in plan.get("layouts", [])
        ],
        "outlets": [{"name": one["name"], "xy": _places([one], onto)[0]} for one in plan.get("outlets", [])],
        "findings": [
            {"rule": one["rule"], "status": one["status"], "message": one["message"]}
            for one in findings
            if one["status"] != "pass"
        ],
        "counts": {status: sum(one["status"] == status for one in findings) for status in ("pass", "flag", "fail")},
    }


def _line(line: Mapping[str, Any], onto: Move) -> dict[str, Any]:
    pipe = line.get("pipe")
    return {
        "id": line.get("id", ""),
        "state": line.get("state", ""),
        "pipe": pipe.get("nominal", "") if isinstance(pipe, Mapping) else "",
        "xy": _places(line["vertices"], onto),
    }


def _places(listed: Sequence[Mapping[str, Any]], onto: Move) -> list[list[float]]:
    x, y = onto(np.array([float(one["x"]) for one in listed]), np.array([float(one["y"]) for one in listed]))
    return [[round(float(a), 4), round(float(b), 4)] for a, b in zip(x, y, strict=True)]


def _onto_paper(crs: str, paper: SheetOfPaper) -> Move:
    if paper.crs is None or crs == "local":
        return lambda x, y: (np.asarray(x) / paper.metres, np.asarray(y) / paper.metres)
    return mover(crs_of(crs, "plan.json, crs"), paper.crs)
