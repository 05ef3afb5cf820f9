"""A plan folder and the site as surveyed in; every rule judged again, and all that the plan states compared, out.

Nothing stored is believed: a verdict is worked out again from raw geometry and ground, and then compared with the stored
one. Findings carry the rule or the part they speak of: `inputs`, `rules-edited`, `arithmetic`, `verdict-edited`,
`low-spots`, `plan-file`, `schedule`, `map`, `sheet-text`, `sheet-blank` beside the rules' own ids.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from siteplan.field.read_plan import StoredPlan, read_plan
from siteplan.field.remedies import pavement_advice
from siteplan.field.review_files import map_findings, plan_file_findings, schedule_findings, text_findings
from siteplan.field.review_numbers import arithmetic
from siteplan.field.review_site import input_findings, low_spot_findings, rule_findings, verdict_findings
from siteplan.field.reviewed import Reviewed, finding
from siteplan.survey.site import Site


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Review:
    """An inspector's recheck. `site` is None where only the plan folder was at hand."""

    stored: StoredPlan
    site: Site | None
    findings: tuple[Reviewed, ...]
    advice: tuple[str, ...] = ()

    @property
    def counts(self) -> dict[str, int]:
        """How many findings of each status."""
        return {status: sum(one.status == status for one in self.findings) for status in ("pass", "flag", "fail")}


def review(plan_folder: Path, site_folder: Path | None) -> Review:
    """Recheck a plan.

    Parameters
    ----------
    plan_folder : Path
        As siteplan plan wrote it, or as somebody left it.
    site_folder : Path or None
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
    stored = read_plan(plan_folder)
    site, why = None, ""
    if site_folder is not None:
        from siteplan.field.derived import with_flows, worked_out
        from siteplan.survey.folder import read_site

        site = with_flows(read_site(site_folder))
        plan, why = worked_out(stored.plan, site)
        stored = replace(stored, plan=plan)
    found = [*_all(stored, site)]
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
        advice=pavement_advice(stored.plan, site) if site is not None else (),
    )


def _all(stored: StoredPlan, site: Site | None) -> Iterator[Reviewed]:
    yield from arithmetic(stored)
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
        yield from verdict_findings(stored, site)
        yield from low_spot_findings(stored, site)
        yield from plan_file_findings(stored, site)
    yield from schedule_findings(stored, worked_out=site is not None)
    yield from map_findings(stored, site)
    yield from text_findings(stored, site)
