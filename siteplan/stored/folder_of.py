"""A plan folder in; the Plan its plan.json states, and the record as it stands, out.

Nothing in it is believed here, only read.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from siteplan.errors import InputError
from siteplan.stored.plan_of import parsed, stored_plan
from siteplan.stored.record_of import MEND, PLAN_FILE
from siteplan.values.whole_plan import Plan

__all__ = ["PLAN_FILE", "StoredPlan", "read_plan"]

_MOST = 64 * 2**20  # bytes; a lot's plan takes a thousandth of it


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredPlan:
    """A plan as it stands in its folder.

    Attributes
    ----------
    plan : Plan
        What plan.json states; unknown grounds are NaN.
    record : mapping
        plan.json as parsed.
    folder : Path
        Where it was read.
    """

    plan: Plan
    record: Mapping[str, Any]
    folder: Path

    def limit(self, rule: str, usual: float) -> float | None:
        """Limit of a rule as the plan lists it, SI.

        `usual` where it lists none, None where it says that it is not known.
        """
        listed = self.record.get("rules")
        for one in listed if isinstance(listed, list) else []:
            if isinstance(one, Mapping) and one.get("id") == rule:
                value = one.get("limit")
                return float(value) if isinstance(value, int | float) and math.isfinite(value) else None
        return usual


def read_plan(folder: Path) -> StoredPlan:
    """The plan that a folder states.

    Parameters
    ----------
    folder : Path
        A plan folder, or the plan.json itself.

    Returns
    -------
    StoredPlan
        SI, as plan.json carries it.

    Raises
    ------
    InputError
        If there is no such file, it is no plan of ours, or a part cannot be read: which part.
    """
    path = folder / PLAN_FILE if folder.is_dir() else folder
    if path.is_file() and path.suffix.lower() != ".json":
        raise InputError(
            folder.name, "is no plan folder", f"Name the folder that siteplan plan wrote, or its {PLAN_FILE}."
        )
    if not path.is_file():
        raise InputError(folder.name or str(folder), f"holds no {PLAN_FILE}", "Name a folder that siteplan plan wrote.")
    try:
        if path.stat().st_size > _MOST:
            raise InputError(PLAN_FILE, f"is larger than {_MOST // 2**20} MB", MEND)
        content = path.read_bytes()
    except OSError as error:
        raise InputError(PLAN_FILE, f"cannot be read ({error.strerror})", MEND) from error
    record = parsed(content)
    return StoredPlan(plan=stored_plan(record), record=record, folder=path.parent)
