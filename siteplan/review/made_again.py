"""A stored plan and its site's folder in.

The plan made again from that site, and where the stored one says other things, out.

This is the planner's own code run a second time: it shares every mistake of the first run, and it tells what was
changed since. A line that goes another way than the planner's is no fault; what only the planner says of it is then on
trust.
"""

from __future__ import annotations

import functools
import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from siteplan.review.alike import record_differences
from siteplan.review.reviewed import Reviewed, finding, made_or_why
from siteplan.site import Site
from siteplan.stored.folder_of import StoredPlan
from siteplan.values.asked_for import ChoicesAsked, InputFile, WhatIf

_MOST = 12  # differences told; the first ones show where to look
_PLACE = 0.005  # m: a line nearer to ours than anybody can stake is ours, and compared figure by figure
_ELSEWHERE = ("rules", "checks")  # compared with the rules in force and with the recheck's own verdicts
_OF_SITE = (
    "sources",
    "outlets",
    "low_spots",
    "own_pipes",
    "site",
    "cautions",
    "reach_note",
    "what_if",
)  # the same whichever way the lines go
_STAMP = "site.stamp"


@functools.lru_cache(maxsize=8)
def _made(
    folder: Path,
    inputs: tuple[InputFile, ...],  # noqa: ARG001
    stamp: str | None,
    asked: WhatIf,
    choices: ChoicesAsked,
) -> dict[str, Any]:
    """By the digests of its files too: a site that changed is planned anew."""
    from siteplan.plan import plan_site
    from siteplan.sheets.plan_json import plan_json

    record: dict[str, Any] = json.loads(plan_json(*plan_site(folder, stamp=stamp, asked=asked, choices=choices)))
    return record


def made_again(stored: StoredPlan, site: Site, folder: Path) -> tuple[Mapping[str, Any] | None, str]:
    """The plan that this program makes of the site now.

    Parameters
    ----------
    stored : StoredPlan
        For its date.
    site : Site
        As read, for the digests of its files.
    folder : Path
        The site's folder.

    Returns
    -------
    tuple of mapping or None, and str
        Its plan.json, and why there is none.
    """
    return made_or_why(
        lambda: _made(folder.resolve(), site.inputs, stored.plan.stamp, stored.plan.what_if, stored.plan.choices_asked)
    )


def other_ways(stored: StoredPlan, made: Mapping[str, Any]) -> tuple[str, ...]:
    """Lines that do not go the planner's own way, and the planner's own that are not there.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    made : mapping
        From `made_again`.

    Returns
    -------
    tuple of str
        Their ids.
    """
    theirs = {str(line.get("id")): line for line in stored.record["lines"]}
    own = {str(line["id"]): line for line in made["lines"]}
    return tuple(
        name
        for name in dict.fromkeys([*theirs, *own])
        if name not in theirs or name not in own or not _same_way(theirs[name], own[name])
    )


def _same_way(theirs: Mapping[str, Any], own: Mapping[str, Any]) -> bool:
    a, b = theirs["vertices"], own["vertices"]
    return len(a) == len(b) and all(
        abs(one[key] - two[key]) <= _PLACE
        for one, two in zip(a, b, strict=True)
        for key in ("x", "y", "station", "invert")
    )


def made_findings(stored: StoredPlan, made: Mapping[str, Any]) -> Iterator[Reviewed]:
    """Where the stored plan says other things than the plan made again.

    Parameters
    ----------
    stored : StoredPlan
        The plan as it stands.
    made : mapping
        From `made_again`.

    Yields
    ------
    Reviewed
        A fail for each difference that no other way of a line explains; a flag for each line that goes another way; or
        a pass.
    """
    aside = other_ways(stored, made)
    told = [one for one in _differences(stored, made, aside) if one[1] != _STAMP]
    for subject, where, stated, own in told[:_MOST]:
        yield finding(
            "made-again", subject, "fail", f"{where}: the plan states {stated}; made again it is {own}", where
        )
    if len(told) > _MOST:
        yield finding("made-again", "plan.json", "fail", f"and {len(told) - _MOST} more such differences")
    for name in aside:
        yield finding(
            "made-again",
            name,
            "flag",
            f"{name} is not as this program lays it from this site: its fittings, notes, pipes by reach, soft "
            "ground and forecast, "
            "and what the plan says of ways not taken, are taken on trust",
        )
    if not told and not aside:
        yield finding("made-again", "plan", "pass", "made again from this site the plan is the same, word for word")


def _differences(
    stored: StoredPlan, made: Mapping[str, Any], aside: tuple[str, ...]
) -> Iterator[tuple[str, str, str, str]]:
    record = stored.record
    own = {str(line["id"]): line for line in made["lines"]}
    for line in record["lines"]:
        name = str(line.get("id"))
        if name not in aside:
            for where, stated, found in record_differences(line, own[name]):
                yield name, f"line {name} {where}", stated, found
    if not aside and [line.get("id") for line in record["lines"]] != [*own]:
        yield "plan.json", "lines", "another order or one twice", "once each"
    for key in dict.fromkeys([*made, *record]):
        if key == "lines" or key in _ELSEWHERE or (aside and key in made and key not in _OF_SITE):
            continue
        for where, stated, found in record_differences(
            {key: record[key]} if key in record else {}, {key: made[key]} if key in made else {}
        ):
            yield _subject(record, where), where, stated, found


def _subject(record: Mapping[str, Any], where: str) -> str:
    """The id of what a difference speaks of."""
    part, _, rest = where.partition(" ")
    number = rest.split(".")[0].split(" ")[0]
    listed = record.get(part)
    if isinstance(listed, list) and number.isdigit() and 0 < int(number) <= len(listed):
        one = listed[int(number) - 1]
        if isinstance(one, Mapping) and isinstance(one.get("id"), str):
            return str(one["id"])
    return "plan.json"
