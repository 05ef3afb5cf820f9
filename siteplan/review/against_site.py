"""A stored plan and the site as surveyed in; inputs, limits, verdicts and low spots compared with our own out."""

from __future__ import annotations

import json
from collections.abc import Iterator

from siteplan import units
from siteplan.review.alike import CLOSE, record_differences, shown_difference, text_differs
from siteplan.review.reviewed import Reviewed, finding, made_or_why
from siteplan.site import Site
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.told import Finding, OnLine


def input_findings(stored: StoredPlan, site: Site) -> Iterator[Reviewed]:
    """Whether the files of the site are those that the plan was made from.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site
        As read now.

    Yields
    ------
    Reviewed
        A fail for each file that is another, is missing or was not named; else one pass.
    """
    plan = stored.plan
    stated = {one.file: one.sha256 for one in plan.inputs}
    own = {one.file: one.sha256 for one in site.inputs}
    wrong = False
    for file, digest in own.items():
        if file not in stated:
            wrong = True
            yield finding("inputs", file, "fail", f"{file} is read now, and the plan does not name it", file)
        elif stated[file].lower() != digest:
            wrong = True
            yield finding(
                "inputs",
                file,
                "fail",
                (
                    f"{file} is not the file the plan was made from: SHA-256 {digest[:12]}, the plan states "
                    f"{stated[file][:12]}"
                ),
                file,
            )
    for file in stated:
        if file not in own:
            wrong = True
            yield finding("inputs", file, "fail", f"the plan was made from {file}, which the site no longer uses", file)
    for what, mine, theirs in (
        ("name", plan.site_name, site.name),
        ("crs", plan.crs, site.crs),
        ("length_unit", plan.length_unit, site.length_unit),
        ("elevation_unit", plan.elevation_unit, site.elevation_unit),
    ):
        if mine != theirs:
            wrong = True
            yield finding(
                "inputs",
                "site.toml",
                "fail",
                f"{what} of the site: the plan states {mine[:60]}, the site {theirs[:60]}",
                "site.toml",
            )
    if not wrong:
        yield finding(
            "inputs", "plan", "pass", f"{len(own)} input files are those the plan was made from, by their SHA-256"
        )


def rule_findings(stored: StoredPlan, site: Site) -> Iterator[Reviewed]:
    """Whether the limits that the plan prints are those in force.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site
        With the rules in force.

    Yields
    ------
    Reviewed
        A fail for each limit, source or standing that was edited; else one pass.
    """
    from siteplan.books.rules import outward
    from siteplan.sheets.plan_json import rule_record

    listed = [one for one in stored.record.get("rules", []) if isinstance(one, dict)]
    stated = {str(one.get("id")): one for one in listed}
    wrong = False
    for name, entry in site.rules.items():
        one = stated.get(name)
        limit, unit = outward(entry)
        if one is None:
            wrong = True
            yield finding("rules-edited", name, "fail", f"rule {name} is in force and the plan does not list it")
            continue
        own = rule_record(entry)
        said = one.get("limit")
        same = said is None and limit is None
        if isinstance(said, int | float) and not isinstance(said, bool) and limit is not None:
            same = abs(said - limit) <= CLOSE
        if not same:
            wrong = True
            told_limit = "not known" if limit is None else f"{limit:g} {unit}"
            yield finding(
                "rules-edited",
                name,
                "fail",
                (
                    f"limit of {name} edited: the plan prints {str(said)[:60]} {str(one.get('unit', ''))[:20]}, "
                    f"the site's rules give {told_limit} ({entry.source})"
                ),
            )
        for key in (key for key in dict.fromkeys([*own, *one]) if key not in {"id", "limit"}):
            if (key in one, one.get(key)) != (key in own, own.get(key)):
                wrong = True
                yield finding(
                    "rules-edited",
                    name,
                    "fail",
                    (
                        f"{key} of {name} edited: the plan prints {str(one.get(key))[:80]!r}, in force is "
                        f"{str(own.get(key))[:80]!r}"
                    ),
                )
    if all(entry.replaced is None for entry in site.rules.values()):
        yield finding("rules-own", "plan", "pass", "the site sets no limit of its own")
    for name, entry in site.rules.items():
        if entry.replaced is not None:
            limit, unit = outward(entry)
            told_limit = "not known" if limit is None else f"{limit:g} {unit}".strip()
            if limit is not None and unit == "m":
                told_limit = units.drop_text(limit, site.length_unit)
            yield finding(
                "rules-own",
                name,
                "flag",
                (
                    f"{entry.rule.title}: {told_limit} is in force ({entry.source}) in place of {entry.replaced}; "
                    "nothing here tells whether it may"
                ),
            )
    for told in _list_findings([str(one.get("id")) for one in listed], site):
        wrong = True
        yield told
    if not wrong:
        yield finding(
            "rules-edited", "plan", "pass", f"{len(site.rules)} rules are listed with the limits and sources in force"
        )


def _list_findings(listed: list[str], site: Site) -> Iterator[Reviewed]:
    """Whether the rules listed are those in force, once each, where they are written."""
    for name in dict.fromkeys(listed):
        if name not in site.rules:
            yield finding("rules-edited", name, "fail", f"the plan lists a rule {name[:60]} that is not in force")
    if len(listed) != len(set(listed)):
        yield finding("rules-edited", "plan", "fail", "a rule is listed twice")
    known = [name for name in dict.fromkeys(listed) if name in site.rules]
    own = [name for name in site.rules if name in known]
    # a rule taken to the foot of a long list is read by nobody
    moved = next((said for said, name in zip(known, own, strict=True) if said != name), None)
    if moved is not None:
        yield finding("rules-edited", moved, "fail", f"the order of the rules was changed: {moved} stands elsewhere")


def verdict_findings(stored: StoredPlan, site: Site) -> Iterator[Reviewed]:
    """Every rule judged again, and the stored verdicts against that.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site
        As surveyed.

    Yields
    ------
    Reviewed
        Our own findings under their rules' ids; then a fail for each stored verdict that is another.
    """
    from siteplan.checks.judge import findings
    from siteplan.review.derived import as_stated, own_inflows

    own, why = made_or_why(lambda: findings(stored.plan, site, as_stated(own_inflows(site))))
    if own is None:
        yield finding("verdict-edited", "plan", "fail", f"the rules cannot be judged from these figures: {why}")
        return
    for one in own:
        yield Reviewed(rule=one.rule, subject=one.subject, status=one.status, where=one.where, message=one.message)
    mine, theirs = _grouped(own), _grouped(stored.plan.findings)
    wrong = False
    for key in dict.fromkeys([*mine, *theirs]):
        rule, subject = key
        for said, found in zip(*_padded(theirs.get(key, []), mine.get(key, [])), strict=True):
            told = _verdict_differs(said, found)
            if told:
                wrong = True
                yield finding("verdict-edited", subject or rule, "fail", f"{rule}: {told}", (found or said).where)  # type: ignore[union-attr]
    if not wrong:
        yield finding("verdict-edited", "plan", "pass", f"{len(own)} stored verdicts are those found again")


def _grouped(findings: tuple[Finding, ...]) -> dict[tuple[str, str], list[Finding]]:
    out: dict[tuple[str, str], list[Finding]] = {}
    for one in findings:
        out.setdefault((one.rule, one.subject), []).append(one)
    return out


def _padded(a: list[Finding], b: list[Finding]) -> tuple[list[Finding | None], list[Finding | None]]:
    longest = max(len(a), len(b))
    return [*a, *[None] * (longest - len(a))], [*b, *[None] * (longest - len(b))]


def _verdict_differs(said: Finding | None, found: Finding | None) -> str:
    if said is None and found is not None:
        return f"the plan has no such finding; the recheck finds {found.status}: {found.message}"
    if found is None and said is not None:
        return f"the plan states {said.status} ({said.message[:100]}), the recheck finds nothing of the kind"
    assert said is not None
    assert found is not None
    if said.status != found.status:
        return f"the plan states {said.status}, the recheck finds {found.status}: {found.message}"
    for what, a, b in (
        ("value", said.value, found.value),
        ("limit", said.limit, found.limit),
        ("doubt", said.doubt, found.doubt),
    ):
        if (a is None) != (b is None) or (a is not None and b is not None and not abs(a - b) <= CLOSE):
            return f"the plan states a {what} of {shown_difference(a)}, the recheck finds {shown_difference(b)}"
    for what, one, other in (("unit", said.unit, found.unit), ("place", said.where, found.where)):
        if (one or other) and text_differs(one, other) is not None:
            return f"the plan states {one[:60]!r} as its {what}, the recheck finds {other!r}"
    if not _same_place(said.place, found.place):
        return f"the plan states another stretch of a line as its place, the recheck finds: {found.where!r}"
    if (told := text_differs(said.message, found.message)) is not None:
        return f"its words were edited: {told[0]!r}, the recheck says {told[1]!r}"
    return ""


def _same_place(said: OnLine | None, found: OnLine | None) -> bool:
    if said is None or found is None:
        return said is found
    return (
        said.line == found.line
        and abs(said.station_from - found.station_from) <= CLOSE
        and abs(said.station_to - found.station_to) <= CLOSE
    )


def low_spot_findings(stored: StoredPlan, site: Site) -> Iterator[Reviewed]:
    """Whether the wet low spots are those of the ground.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    site : Site
        As surveyed.

    Yields
    ------
    Reviewed
        A fail for each that is missing, new or another; else one pass.
    """
    from dataclasses import replace

    from siteplan.review.derived import own_low_spots
    from siteplan.sheets.plan_json import plan_json

    own = own_low_spots(site)
    # through the same writing, so that only figures are compared
    written = json.loads(
        plan_json(replace(stored.plan, lines=(), candidates=(), findings=(), low_spots=own, water=None), site)
    )["low_spots"]
    mine = {one["id"]: one for one in written}
    theirs = {str(one.get("id")): one for one in stored.record.get("low_spots", [])}
    wrong = False
    for name in dict.fromkeys([*mine, *theirs]):
        if name not in theirs:
            wrong = True
            yield finding("low-spots", name, "fail", f"wet low spot {name} is in the ground and not in the plan")
        elif name not in mine:
            wrong = True
            yield finding(
                "low-spots", name, "fail", f"the plan has a wet low spot {name[:40]} that the ground does not have"
            )
        elif (told := next(record_differences(theirs[name], mine[name]), None)) is not None:
            wrong = True
            yield finding(
                "low-spots", name, "fail", f"wet low spot {name}: {told[0]} is {told[1]}, the ground gives {told[2]}"
            )
    if not wrong:
        yield finding("low-spots", "plan", "pass", f"{len(mine)} wet low spots are those of the ground")
