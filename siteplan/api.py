"""The commands for who writes Python, under the names of the commands: values in, values out.

Nothing heavy is loaded before it is called.

`from siteplan import api`. The rooms have names of their own beside them (`siteplan.plan` is the spine, `siteplan.fall`
a room), so the functions stand here and not in the package's root.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from siteplan.begin.given import Given
    from siteplan.begin.lacking import Lacking
    from siteplan.begin.new_site import NewSite
    from siteplan.deeds.traverse import Traverse
    from siteplan.quick.fall import quick_fall as fall
    from siteplan.review.compared import compared as compare
    from siteplan.review.whole import review
    from siteplan.site import Site
    from siteplan.values.whole_plan import Plan

__all__ = ("Planned", "check", "compare", "deed", "fall", "new", "plan", "review")
_ELSEWHERE = {
    "fall": ("siteplan.quick.fall", "quick_fall"),
    "review": ("siteplan.review.whole", "review"),
    "compare": ("siteplan.review.compared", "compared"),
}


class Planned(NamedTuple):
    """A plan with what belongs to it.

    Attributes
    ----------
    plan : Plan
        As laid out, proven and judged; what could not be made stands in `missing`.
    site : Site
        As surveyed.
    files : dict of str to bytes
        Every sheet, as it is written into a plan folder.
    """

    plan: Plan
    site: Site
    files: dict[str, bytes]

    @property
    def fails(self) -> bool:
        """Whether something in the plan fails: exit code 1 of the command."""
        return any(finding.status == "fail" for finding in self.plan.findings)


def plan(
    site: Path | str,
    out: Path | str | None = None,
    *,
    date: str | None = None,
    without: Sequence[str] = (),
    only: Sequence[str] = (),
    settings: Mapping[str, object] | Sequence[tuple[str, str]] = (),
    choose: int | None = None,
    layouts: int | None = None,
    front: bool = False,
    debug: bool = False,
) -> Planned:
    """Lay out, prove and write: `siteplan plan`.

    Parameters
    ----------
    site : Path or str
        The site folder.
    out : Path or str, optional
        Plan folder to write, whole or not at all; nothing is written without it.
    date : str, optional
        Year-month-day printed on the sheets.
    without, only : sequence of str
        What if: outlets left out of play; the only ones in play.
    settings : mapping, or sequence of (str, str)
        What if: keys of site.toml laid over it, such as `{"min_cover_in": 10}`.
    choose, layouts : int, optional
        Which layout to take; how many to look for, 1 the quickest.
    front : bool
        Whether every layout is laid.
    debug : bool
        True: a part that fails by a fault of ours ends the plan.

    Returns
    -------
    Planned
        The plan, the site and the sheets.

    Raises
    ------
    InputError, InputErrors
        If the folder cannot be used, or `out` cannot take a plan; nothing is written then.
    """
    from collections.abc import Mapping
    from dataclasses import replace
    from pathlib import Path

    from siteplan.offered import made_sheets
    from siteplan.optional import gathering
    from siteplan.plan import plan_site
    from siteplan.sheets.folio import check_folio, write_folio
    from siteplan.values.asked_for import USUAL_LAYOUTS, ChoicesAsked, WhatIf

    pairs = settings.items() if isinstance(settings, Mapping) else settings
    laid_over = tuple((key, str(value).lower() if isinstance(value, bool) else str(value)) for key, value in pairs)
    asked = WhatIf(without=tuple(without), only=tuple(only), settings=laid_over)
    choices = ChoicesAsked(choose=choose, count=USUAL_LAYOUTS if layouts is None else layouts, front=front)
    if out is not None:
        check_folio(Path(out))
    made, surveyed = plan_site(Path(site), stamp=date, asked=asked, choices=choices, debug=debug)
    with gathering(debug=debug) as missing:
        files = made_sheets(made, surveyed)
    if out is not None:
        write_folio(Path(out), files)
    return Planned(replace(made, missing=(*made.missing, *missing)), surveyed, files)


def new(folder: Path | str, given: Given | None = None, **named: Any) -> NewSite:
    """Begin a site folder: `siteplan new`.

    Parameters
    ----------
    folder : Path or str
        Must not exist, or be empty.
    given : Given, optional
        Files and answers; or each of them by its name: points, grid, tin, features, plat, deed, name, crs, unit,
        elevation_unit, order.
    **named
        See `given`; files as paths or texts.

    Returns
    -------
    NewSite
        What was written and what stays open.

    Raises
    ------
    InputError, InputErrors
        If anything given cannot be read, or something stands in the folder; nothing is written then.
    """
    from pathlib import Path

    from siteplan.begin.given import Given
    from siteplan.begin.new_site import new_site

    if given is None:
        for key in ("points", "grid", "tin", "plat", "deed"):
            if named.get(key) is not None:
                named[key] = Path(named[key])
        features = named.pop("features", ())
        several = (features,) if isinstance(features, str | Path) else features
        given = Given(features=tuple(Path(one) for one in several), **named)
    return new_site(Path(folder), given)


def check(site: Path | str) -> Lacking:
    """What a site folder still lacks, and the shots to take first: `siteplan check`.

    Parameters
    ----------
    site : Path or str
        The site folder.

    Returns
    -------
    Lacking
        ready, missing, shots.

    Raises
    ------
    InputError, InputErrors
        If the folder is broken: every fault at once.
    """
    from pathlib import Path

    from siteplan.begin.lacking import check_site

    return check_site(Path(site))


def deed(text: str, *, unit: str = "", spread: bool = False) -> Traverse:
    """A lot by its deed's calls: `siteplan deed`.

    Parameters
    ----------
    text : str
        The calls themselves.
    unit : str
        Of lengths without one.
    spread : bool
        Whether a misclosure is spread by the compass rule.

    Returns
    -------
    Traverse
        Corners [m], area [m2], misclosure.

    Raises
    ------
    InputError, InputErrors
        For a call that cannot be made out.
    """
    from siteplan.deeds.calls import read_deed
    from siteplan.deeds.traverse import laid_out

    return laid_out(read_deed(text, "the calls", unit=unit).calls, spread=spread)


def __getattr__(name: str) -> Any:
    """Functions that stand in their rooms: fall, review, compare."""
    if name not in _ELSEWHERE:
        raise AttributeError(f"module 'siteplan.api' has no attribute {name!r}")
    room, function = _ELSEWHERE[name]
    return getattr(import_module(room), function)
