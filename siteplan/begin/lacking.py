"""A site folder in.

What it lacks for a plan, a capacity answer and a belly forecast, and the shots to take first, out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, NamedTuple, get_args

from siteplan.begin.first_shots import FirstShot, shots_of_drawn, shots_of_plan
from siteplan.books.kinds import OUTLET_KINDS, PAVEMENT_KINDS, SOURCES, Flow, Kind, into_pipe
from siteplan.errors import InputError, NotGiven, raise_gathered
from siteplan.survey.features import Drawn
from siteplan.survey.files import said
from siteplan.survey.gathered import GatheredSite, gathered_site
from siteplan.survey.plat_image import PlatImage
from siteplan.values.asked_for import ChoicesAsked

Purpose = Literal["plan", "capacity", "belly"]
PURPOSES: tuple[Purpose, ...] = get_args(Purpose)
_NAMED = 4  # names told one by one


class Lack(NamedTuple):
    """One thing that is not there. `blocks`: no plan is made without it; else the plan goes on with an assumption."""

    what: str
    needed_for: Purpose
    mend: str
    blocks: bool


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Lacking:
    """What a site folder lacks.

    Attributes
    ----------
    name : str
        Of the site; '' where it is not told.
    ready : bool
        Whether a plan can be made.
    missing : tuple of Lack
        What blocks a plan first; then what a plan, a capacity answer and a belly forecast have to assume, the most
        helpful first.
    shots : tuple of FirstShot
        The shots to take first, at most three, in the survey's own system.
    survey : str
        That system and its unit, as printed.
    plat : PlatImage or None
        The image to draw over.
    """

    name: str
    ready: bool
    missing: tuple[Lack, ...]
    shots: tuple[FirstShot, ...]
    survey: str
    plat: PlatImage | None


def check_site(folder: Path, *, debug: bool = False) -> Lacking:
    """What a site folder lacks.

    Parameters
    ----------
    folder : Path
        The site folder.
    debug : bool
        True: a fault of ours in laying out ends the check, so that it can be seen where.

    Returns
    -------
    Lacking
        The yard is laid out once where a plan can be made: the shots are those that would make its lines surest.

    Raises
    ------
    InputError, InputErrors
        If the folder is broken: every fault of every stage of reading, what is missing among them.
    """
    found = gathered_site(Path(folder))
    if any(not isinstance(one, NotGiven) for one in found.faults):
        raise_gathered(found.faults)
    missing = (*(_blocking(one) for one in found.faults), *helping(found))
    plan = None
    if found.site is not None:
        from siteplan.plan import plan_site

        plan, _ = plan_site(Path(folder), choices=ChoicesAsked(count=1), debug=debug)
    shots, survey = shots_of_drawn(found) if plan is None else shots_of_plan(plan)
    return Lacking(
        name=found.settings.name,
        ready=found.site is not None,
        missing=missing,
        shots=shots,
        survey=survey,
        plat=found.settings.plat_image,
    )


def _blocking(fault: InputError) -> Lack:
    return Lack(f"{fault.where}: {fault.what}", "plan", fault.mend, blocks=True)


def helping(found: GatheredSite) -> tuple[Lack, ...]:
    """What a plan could go on without, and would assume.

    Parameters
    ----------
    found : GatheredSite
        The folder as far as it can be read.

    Returns
    -------
    tuple of Lack
        For the plan, then for capacity, then for a belly, in the order of what moves the answer most (common practice,
        no source).
    """
    return tuple(Lack(*row, blocks=False) for row in (*_for_plan(found), *_for_capacity(found), *_for_belly(found)))


_Row = tuple[str, Purpose, str]


def _of(found: GatheredSite, *kinds: str) -> tuple[Drawn, ...]:
    return tuple(one for one in found.drawn if one.kind in kinds)


def _names(features: Sequence[Drawn]) -> str:
    told = [said(one.name) or one.place for one in features]
    more = f" and {len(told) - _NAMED} more" if len(told) > _NAMED else ""
    return ", ".join(told[:_NAMED]) + more


def _for_plan(found: GatheredSite) -> Iterator[_Row]:
    if not found.drawn:
        return
    outlets = _of(found, *OUTLET_KINDS)
    if not outlets:
        yield (
            "no outlet is named",
            "plan",
            (
                "Mark where the water may leave: a curb_outlet on the gutter, a daylight_outlet, a tie_in. "
                "Without one only daylight that the ground itself shows is used."
            ),
        )
    loose = [one for one in outlets if "invert" not in one.attributes and not into_pipe(one.kind)]
    if loose:
        yield (
            f"no invert is given at {_names(loose)}",
            "plan",
            (
                "Shoot the gutter flow line, or the ground at daylight, and give invert: else it is taken from "
                "the ground model there."
            ),
        )
    if ("ground", "accuracy") not in found.told and found.settings.ground.grid is not None:
        yield (
            "[ground] accuracy is not given",
            "plan",
            (
                "Give one standard deviation of an elevation, as the survey or the grid's report states it; "
                "every verdict is weighed with it."
            ),
        )
    if not _of(found, Kind.BUILDING):
        yield (
            "no building is drawn",
            "plan",
            "Draw the house as a polygon of kind building: nothing else keeps a line off its footing.",
        )
    if not _of(found, Kind.UTILITY):
        yield (
            "no utility is drawn",
            "plan",
            (
                "Request public locates, find private lines, and draw them as lines of kind utility, with "
                "service and depth where they are known."
            ),
        )


def _for_capacity(found: GatheredSite) -> Iterator[_Row]:
    if not any(section == "rainfall" for section, _ in found.told):
        yield (
            "no rain is given",
            "capacity",
            (
                "Give [rainfall] intensity, or a table, from the published rainfall of the place: the 5 minute "
                "row of the return period that the code asks for."
            ),
        )
    for flow, keys, what, mend in (
        (Flow.ROOF, ("roof_area",), "roof_area", "Give the roof that each downspout takes, seen from above."),
        (
            Flow.PUMP,
            ("pump_rate", "pump_flow", "pump_curve"),
            "the rate of the pump",
            "Time a full pit, or read the pump's plate, and give pump_rate.",
        ),
        (Flow.AREA, ("flow", "drained_area"), "flow or drained_area", "Give one of them at each area drain."),
    ):
        bare = [
            one
            for one in found.drawn
            if one.kind in SOURCES and SOURCES[one.kind].flow is flow and not any(key in one.attributes for key in keys)
        ]
        if bare:
            yield f"{what} is not given at {_names(bare)}", "capacity", mend
    old = [one for one in found.drawn if into_pipe(one.kind) and not {"diameter", "takes_flow"} <= set(one.attributes)]
    if old:
        yield (
            f"the size of the old pipe, or what it can still take, is not given at {_names(old)}",
            "capacity",
            "Measure its inside (diameter_in or diameter_mm) and ask its owner (takes_gpm or takes_lps).",
        )


def _for_belly(found: GatheredSite) -> Iterator[_Row]:
    if found.drawn and not _of(found, Kind.WET_AREA):
        yield (
            "no soft or wet ground is marked",
            "belly",
            (
                "Walk the lot after rain, probe, and draw soft ground as polygons of kind wet_area: else only "
                "hollows that the ground shows count as wet."
            ),
        )
    asked: tuple[tuple[str, Callable[[], bool], str, str], ...] = (
        (
            "wet_soil",
            lambda: bool(found.drawn),
            "the soil of wet ground is not told",
            (
                'Say wet_soil = "mineral" or "organic" under [trench] (dig a hole and look): else both are tried '
                "and the worst is printed."
            ),
        ),
        (
            "house_backfill",
            lambda: bool(_of(found, Kind.BUILDING)),
            "whether the fill round the house is fresh is not told",
            'Say house_backfill = "fresh" or "settled" under [trench]; settled is assumed.',
        ),
        (
            "vehicle",
            lambda: any("vehicle" not in one.attributes for one in _of(found, *PAVEMENT_KINDS)),
            "what drives over the pavement is not told",
            "Give vehicle at the driveway, car or truck: a car is assumed.",
        ),
    )
    for key, applies, what, mend in asked:
        if ("trench", key) not in found.told and applies():
            yield what, "belly", mend
