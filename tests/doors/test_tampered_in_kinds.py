"""Two hundred and more edits by kind, on plans of three lots.

Each is found, or the review names that part as taken on trust.
"""

from __future__ import annotations

import copy
import itertools
import json
import random
import re

import pytest

from siteplan.errors import InputError, InputErrors
from siteplan.review import same_files
from siteplan.review.against_site import input_findings, rule_findings, verdict_findings
from siteplan.review.derived import worked_out
from siteplan.review.made_again import made_again, made_findings
from siteplan.review.numbers_of import arithmetic
from siteplan.stored.folder_of import StoredPlan, read_plan
from siteplan.stored.plan_of import parsed, stored_plan
from siteplan.survey.folder import read_site

LOTS = (4, 13, 47)


@pytest.fixture(scope="module", params=[LOTS[0], *(pytest.param(one, marks=pytest.mark.slow) for one in LOTS[1:])])
def planned(request, planned_honest):
    lot = planned_honest(request.param)
    stored, site = read_plan(lot.folder), read_site(lot.at)
    made, why = made_again(stored, site, lot.at)
    assert why == ""
    return stored, site, made


def swapped(key):
    """The first two of a list that differ in a key change its values over."""

    def edit(items):
        for a, b in itertools.combinations(items, 2):
            if key in a and key in b and apart(a[key], b[key]):
                a[key], b[key] = b[key], a[key]
                return True
        return False

    return edit


def apart(a, b):
    """Whether two values differ by more than what another machine may make of the same site."""
    figures = all(isinstance(one, int | float) and not isinstance(one, bool) for one in (a, b))
    return abs(a - b) > 1e-3 if figures else a != b


def turned(items):
    if len(items) < 2 or items[0] == items[-1]:
        return False
    items.reverse()
    return True


def doubled(items):
    if items:
        items.append(copy.deepcopy(items[-1]))
    return bool(items)


def emptied(items):
    had = bool(items)
    items.clear()
    return had


def every(key, change):
    """A key of every entry that has it."""

    def edit(items):
        hit = False
        for one in items:
            if isinstance(one, dict) and key in one and (new := change(one[key])) != one[key]:
                one[key] = new
                hit = True
        return hit

    return edit


def a_little(value):
    return value * 1.03 + 0.004 if isinstance(value, int | float) and not isinstance(value, bool) else value


def worded(value):
    return "as before" if isinstance(value, str) else value


def spaced(value):
    return f"{value}\u200b" if isinstance(value, str) else value


def shouted(value):
    return value.swapcase() if isinstance(value, str) else value


def as_text(value):
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


def none(value):
    return None


LISTS = ("lines", "sources", "outlets", "low_spots", "candidates", "attempts", "rules", "checks")
OF_LINE = ("stations", "crossings", "reaches", "low_spots", "vertices")


WAYS = (
    ("a little more", a_little),
    ("other words", worded),
    ("none", none),
    ("a figure as text", as_text),
    ("unseen letter", spaced),
    ("other case", shouted),
)


def longest(part):
    return lambda record: max((line.get(part) or [] for line in record["lines"]), key=len, default=[])


def edits(record):
    """Name of a kind, and what does it to a record; it says whether there was anything to do."""
    for name, of in [
        *((part, lambda one, part=part: one.get(part) or []) for part in LISTS),
        *((f"line.{part}", longest(part)) for part in OF_LINE),
    ]:
        for how, edit in (("turned about", turned), ("last one doubled", doubled), ("emptied", emptied)):
            yield f"{name}: {how}", lambda one, of=of, edit=edit: edit(of(one))
        for key in dict.fromkeys(key for one in of(record) if isinstance(one, dict) for key in one):
            for how, change in WAYS:
                yield f"{name}.{key}: {how}", lambda one, of=of, key=key, change=change: every(key, change)(of(one))
            yield f"{name}.{key}: two changed over", lambda one, of=of, key=key: swapped(key)(of(one))
            yield f"{name}.{key}: gone", lambda one, of=of, key=key: gone(key)(of(one))
    for key in record:
        yield f"{key}: taken out", lambda one, key=key: bool(one.pop(key)) or True
    for part in ("site", "water"):
        for key in record[part] or {}:
            for how, change in WAYS[:3]:
                yield (
                    f"{part}.{key}: {how}",
                    lambda one, part=part, key=key, change=change: every(key, change)([one[part]]),
                )


def gone(key):
    """The key is taken from every entry in which it says something."""

    def edit(items):
        said = [one for one in items if one.get(key) is not None]
        for one in said:
            del one[key]
        return bool(said)

    return edit


def found(planned, record):
    """Whether any part of the review fails the record; the site's own fails do not count."""
    stored, site, made = planned
    try:
        other = StoredPlan(plan=stored_plan(parsed(json.dumps(record).encode())), record=record, folder=stored.folder)
    except (InputError, InputErrors):
        return True
    for part in (
        made_findings(other, made),
        rule_findings(other, site),
        arithmetic(other),
        input_findings(other, site),
        same_files.text_findings(other, site),
    ):
        if any(one.status == "fail" for one in part):
            return True
    # slower parts last: verdicts, the file as a whole, the sheets against it
    if any(
        one.rule == "verdict-edited" and one.status == "fail"
        for one in verdict_findings(
            StoredPlan(plan=worked_out(other.plan, site)[0], record=record, folder=stored.folder), site
        )
    ):
        return True
    return any(
        one.status == "fail"
        for part in (
            same_files.plan_file_findings(other, site),
            same_files.schedule_findings(other),
            same_files.map_findings(other, site),
        )
        for one in part
    )


EACH = 80
ON_TRUST = {f"site.stamp: {how}" for how in ("other words", "none", "gone")}  # 'the date on the sheets' of every review


def test_every_kind_of_edit_of_the_record_is_found(planned):
    stored = planned[0]
    whole = json.dumps(stored.record)
    assert not found(planned, json.loads(whole))
    kinds = list(edits(stored.record))
    random.Random(f"kinds of {stored.plan.site_name}").shuffle(kinds)  # other ones on each lot, the same each time
    tried, missed = 0, []
    for name, edit in kinds:
        record = json.loads(whole)
        if tried == EACH:
            break
        if not edit(record):
            continue
        tried += 1
        if not found(planned, record):
            missed.append(name)
    assert tried == EACH
    assert set(missed) <= ON_TRUST, missed


def test_a_limit_written_as_text_is_found(planned):
    record = json.loads(json.dumps(planned[0].record))
    rule = next(one for one in record["rules"] if one["id"] == "min-cover")
    rule["limit"] = "none"
    other = StoredPlan(plan=planned[0].plan, record=record, folder=planned[0].folder)
    assert [one.subject for one in rule_findings(other, planned[1]) if one.status == "fail"] == ["min-cover"]


FORMS = {
    "words behind the end": lambda raw: raw + b"approved",
    "two plans": lambda raw: raw + raw,
    "a key twice, once in another writing": lambda raw: raw.replace(
        b'"format"', b'"form\\u0061t": "siteplan-plan",\n"format"', 1
    ),
    "sixteen bit letters": lambda raw: raw.decode().encode("utf-16"),
    "a figure that is none": lambda raw: re.sub(rb'"spare": [-\d.]+', b'"spare": NaN', raw, count=1),
    "an endless figure": lambda raw: re.sub(rb'"spare": [-\d.]+', b'"spare": 1e999', raw, count=1),
}


@pytest.mark.parametrize("form", FORMS)
def test_a_record_that_readers_would_not_read_alike_is_refused(planned, tmp_path, form):
    raw = (planned[0].folder / "plan.json").read_bytes()
    other = FORMS[form](raw)
    assert other != raw
    (tmp_path / "plan.json").write_bytes(other)
    with pytest.raises(InputError, match=r"plan\.json"):
        read_plan(tmp_path)
