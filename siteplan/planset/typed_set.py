"""What was typed after `siteplan sheets` in; a PlanSetAsked out, or one message about what cannot be used."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from siteplan.errors import InputError
from siteplan.planset.asked import PlanSetAsked
from siteplan.plotting.frame import plan_id
from siteplan.plotting.ground_lines import GroundLines, ground_lines
from siteplan.plotting.paper_sizes import paper_of, usual_paper
from siteplan.review.compared import compared
from siteplan.stored.folder_of import PLAN_FILE, StoredPlan, read_plan


def set_from_typed(typed: Mapping[str, Any]) -> PlanSetAsked:
    """The question, with the plan read.

    Parameters
    ----------
    typed : mapping
        The command's options.

    Returns
    -------
    PlanSetAsked
        For `plan_set`.

    Raises
    ------
    InputError
        If a folder cannot be read, or the site is not that of the plan.
    """
    stored = read_plan(typed["plan"])
    plan = stored.plan
    against = None if typed["against"] is None else compared(typed["against"], typed["plan"])
    content = _record_bytes(typed["plan"], stored)
    return PlanSetAsked(
        stored=stored,
        identity=plan_id(content),
        digest=hashlib.sha256(content).hexdigest(),
        language=typed.get("language") or "english",
        paper=paper_of(typed["paper"]) if typed["paper"] else usual_paper(plan.length_unit),
        scale=typed["scale"],
        date=typed["date"] or plan.stamp or "",
        revision=typed["revision"],
        ground=None if typed["site"] is None else _ground(stored, typed["site"]),
        against=against,
        debug=typed["debug"],
    )


def _record_bytes(typed: Path, stored: StoredPlan) -> bytes:
    return (typed if typed.is_file() else stored.folder / PLAN_FILE).read_bytes()


def _ground(stored: StoredPlan, folder: Path) -> GroundLines:
    """The ground of the site that the plan was made from; another one's would be drawn under the wrong lines."""
    from siteplan.survey.folder import read_site

    site = read_site(folder, stored.plan.what_if, stored.plan.lifts_chosen)
    stated = {one.file: one.sha256 for one in stored.plan.inputs}
    for one in site.inputs:
        if stated.get(one.file) != one.sha256:
            raise InputError(
                "--site", f"{one.file} is not as the plan was made from", "Plan the site again, or leave --site out."
            )
    return ground_lines(stored.plan, site)
