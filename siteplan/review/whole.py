"""A plan folder and the site as surveyed in; every rule judged again, and all that the plan states compared, out.

A verdict is worked out again from raw geometry and ground, and then compared with the stored one; `standing` says what
was worked out how, and what was not. Findings carry the rule or the part they speak of: `inputs`, `rules-edited`,
`arithmetic`, `verdict-edited`, `low-spots`, `made-again`, `what-if`, `extra-file`, `plan-file`, `schedule`, `map`,
`sheet-text`, `sheet-blank` beside the rules' own ids.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from siteplan.review.against_site import input_findings, low_spot_findings, rule_findings, verdict_findings
from siteplan.review.layouts_of_plan import layout_findings
from siteplan.review.made_again import made_again, made_findings, other_ways
from siteplan.review.numbers_of import arithmetic
from siteplan.review.pavement_cures import pavement_advice
from siteplan.review.reviewed import Reviewed, finding, made_or_why
from siteplan.review.same_files import (
    folder_findings,
    map_findings,
    other_sheet_findings,
    plan_file_findings,
    schedule_findings,
    text_findings,
)
from siteplan.review.trusted import TrustStanding, standing
from siteplan.sheets.wording import what_if_text
from siteplan.site import Site
from siteplan.stored.folder_of import StoredPlan, read_plan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Review:
    """An inspector's recheck. `site` is None where only the plan folder was at hand."""

    stored: StoredPlan
    site: Site | None
    findings: tuple[Reviewed, ...]
    advice: tuple[str, ...] = ()
    standing: TrustStanding

    @property
    def counts(self) -> dict[str, int]:
        """How many findings of each status."""
        return {status: sum(one.status == status for one in self.findings) for status in ("pass", "flag", "fail")}


def review(plan_folder: Path | str, site_folder: Path | str | None) -> Review:
    """Recheck a plan.

    Parameters
    ----------
    plan_folder : Path or str
        As siteplan plan wrote it, or as somebody left it.
    site_folder : Path or str or None
        The site as surveyed; without it rules cannot be judged, and that is said.

    Returns
    -------
    Review
        Fails first, then flags, then what passes.

    Raises
    ------
    InputError, InputErrors
        If plan.json or the site folder cannot be read at all.
    """
    stored = read_plan(Path(plan_folder))
    site, why, worked = None, "", stored
    made: Mapping[str, Any] | None = None
    unmade = ""
    if site_folder is not None:
        from siteplan.review.derived import worked_out
        from siteplan.survey.folder import read_site

        folder = Path(site_folder)
        site = read_site(folder, stored.plan.what_if, stored.plan.lifts_chosen).with_rates(stored.plan.pumped_rates)
        plan, why = worked_out(stored.plan, site)
        worked = replace(stored, plan=plan)
        made, unmade = made_again(stored, site, folder)
    found = [*_all(stored, worked, site)]
    if made is not None:
        found += made_findings(stored, made)
    elif site is not None:
        found.append(
            finding("made-again", "plan", "flag", f"the plan could not be made again from this site ({unmade})")
        )
    if why:
        found.append(
            finding("plan-file", "plan.json", "fail", f"water and doubt cannot be worked out from these lines ({why})")
        )
    rank = {"fail": 0, "flag": 1, "pass": 2}
    found.sort(key=lambda one: rank[one.status])
    return Review(
        stored=stored,
        site=site,
        findings=tuple(found),
        advice=(made_or_why(lambda: pavement_advice(worked.plan, site))[0] or ()) if site is not None else (),
        standing=standing(
            judged=site is not None, made=made is not None, aside=() if made is None else other_ways(stored, made)
        ),
    )


def _all(stored: StoredPlan, worked: StoredPlan, site: Site | None) -> Iterator[Reviewed]:
    if stored.plan.what_if:
        yield finding(
            "what-if",
            "plan",
            "flag",
            (
                "the plan answers a question and is not of the site as surveyed: "
                f"{what_if_text(stored.plan.what_if)}. It is judged with the same question asked"
            ),
        )
    yield from arithmetic(stored)
    yield from layout_findings(stored)
    if site is None:
        yield finding(
            "rules-edited",
            "plan",
            "flag",
            "no site folder was given: rules, ground and geometry are not judged again. Give SITE.",
        )
    else:
        yield from input_findings(stored, site)
        yield from rule_findings(stored, site)
        yield from verdict_findings(worked, site)
        yield from low_spot_findings(worked, site)
        yield from plan_file_findings(worked, site)
    yield from schedule_findings(stored)
    yield from map_findings(stored, site)
    yield from other_sheet_findings(stored, site)
    yield from text_findings(stored, site)
    yield from folder_findings(stored)
