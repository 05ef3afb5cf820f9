"""A comparison of two batches in; the words for a terminal and the record for programs out."""

from __future__ import annotations

import json

from siteplan import units
from siteplan.batch.record import LotState
from siteplan.batch.side_by_side import BatchComparison, LotBreak, LotChange
from siteplan.batch.summary import LOOKS
from siteplan.sheets.terminal import fitted
from siteplan.sheets.wording import counted

_SHOWN = 20  # lots of each kind on a terminal; --json has them all


def batches_as_json(found: BatchComparison) -> str:
    """For programs.

    Parameters
    ----------
    found : BatchComparison
        From `batches_compared`.

    Returns
    -------
    str
        JSON: changed, breaks, mends and lots; metres.
    """

    def broken(one: LotBreak) -> dict[str, str]:
        return {"rule": one.rule, "subject": f"{one.lot}: {one.subject}"}

    record = {
        "changed": [
            {"what": one.what, "subject": one.lot, "before": one.before, "after": one.after, "unit": one.unit}
            for one in found.changed
        ],
        "breaks": [broken(one) for one in found.breaks],
        "mends": [broken(one) for one in found.mends],
        "lots": {
            "compared": found.lots,
            "newly_failing": [one.name for one in found.failing],
            "newly_passing": [one.name for one in found.passing],
            "margins_moved": [one.lot for one in found.changed if one.what == "margin"],
            "added": list(found.added),
            "gone": list(found.gone),
            "not_planned": list(found.unknown),
        },
    }
    return json.dumps(record, indent=2, ensure_ascii=False)


def batches_as_text(found: BatchComparison, unit_of: dict[str, str]) -> str:
    """For people: lots newly failing first, then newly passing, then margins moved, the largest loss first.

    Parameters
    ----------
    found : BatchComparison
        From `batches_compared`.
    unit_of : dict of str to str
        Length unit of each lot that changed.

    Returns
    -------
    str
        At most 80 columns; no newline at the end.
    """
    moved = [
        one
        for one in found.changed
        if one.what == "margin" and isinstance(one.before, float) and isinstance(one.after, float)
    ]
    out = fitted(
        f"{counted(found.lots, 'lot')}: {len(found.failing)} newly failing, {len(found.passing)} newly passing, "
        f"{counted(len(moved), 'margin')} moved, {len(found.added)} added, {len(found.gone)} gone"
    )
    told = [f"NEWLY FAILING {one.name}: {LOOKS[one.state].word}: {one.why}" for one in found.failing]
    out += _first(told)
    out += _first([f"NEWLY PASSING {one.name}: {LOOKS[one.state].word}" for one in found.passing])
    out += _first([f"BREAKS {one.rule}: {one.lot}: {one.subject}" for one in found.breaks])
    crossed = {one.name for one in (*found.failing, *found.passing)}
    states = [one for one in found.changed if one.what == "state" and one.lot not in crossed]
    out += _first([f"STATE {one.lot}: {_state(one.before)} -> {_state(one.after)}" for one in states])
    moved.sort(key=lambda one: (_by(one), one.lot))
    out += _first([_moved(one, unit_of.get(one.lot, "m")) for one in moved])
    for head, names in (
        ("ADDED", found.added),
        ("GONE", found.gone),
        ("NOT PLANNED YET in one of them", found.unknown),
    ):
        out += (
            fitted(f"{head} {', '.join(names[:_SHOWN])}{' and more' if len(names) > _SHOWN else ''}") if names else []
        )
    return "\n".join(out)


def _state(value: LotState | float | str | None) -> str:
    return next((look.word for state, look in LOOKS.items() if state == value), str(value))


def _by(one: LotChange) -> float:
    return float(one.after or 0.0) - float(one.before or 0.0)


def _moved(one: LotChange, unit: str) -> str:
    was, now = (units.length_text(float(value or 0.0), unit) for value in (one.before, one.after))
    sign = "+" if _by(one) > 0 else "-"
    return f"MARGIN {one.lot}: {was} -> {now} ({sign}{units.length_text(abs(_by(one)), unit)})"


def _first(told: list[str]) -> list[str]:
    lines = [line for text in told[:_SHOWN] for line in fitted(text)]
    return [*lines, f"  and {len(told) - _SHOWN} more: --json lists all"] if len(told) > _SHOWN else lines
