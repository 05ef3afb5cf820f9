"""Figures of pumped lines, each with its source.

How smooth the pipe is taken, what fittings lose, how a rated point becomes a curve.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any

from siteplan import units
from siteplan.books.practice import MEMORY, Practice

PRESSURE_PIPE = "pvc_sch40"  # the kind laid under pressure: the book's sizes of it begin at 1.5 in
SMOOTHNESS = Practice(
    140,
    "ratio",
    (
        "Hazen and Williams' C of plastic pipe under pressure, some years old; tables of new pipe take 150 "
        "(Illinois Administrative Code, title 77, part 906, appendix A, exhibit I, read)"
    ),
)
PIT_BELOW_GROUND = Practice(
    10, "ft", "a pump stops so far under the ground at the wall where a survey gives no off_level: a basement's pit"
)
BASIN_BELOW_GROUND = Practice(
    3,
    "ft",
    "a pump in a basin outside, as is offered where nothing falls, is taken to stop so far under the ground there",
)
SHUT_OFF = Practice(
    4 / 3,
    "ratio",
    "head at no flow over the head of the rated point, where one rated point is all that is known of a pump",
)
RUN_OUT = Practice(2, "ratio", "flow at no head over the flow of the rated point, likewise")

# loss of each as a share of the velocity head; textbooks give ranges, these are usual figures (memory)
LOSSES: Mapping[str, Practice] = MappingProxyType(
    {
        "entry": Practice(0.5, "ratio", "loss at the pump's own outlet fitting, in velocity heads", MEMORY),
        "riser": Practice(1.8, "ratio", "loss in the two quarter bends from the pit through the wall, in velocity heads", MEMORY),
        "check_valve": Practice(2.5, "ratio", "loss in a swing check valve, in velocity heads", MEMORY),
        "turn_45": Practice(0.4, "ratio", "loss in a turn of 45 degrees, in velocity heads; other turns by their angle", MEMORY),
        "exit": Practice(1.0, "ratio", "loss where the line ends in the open, in velocity heads", MEMORY),
    }
)  # fmt: skip
LEAST_PUMPED = 0.5 * units.GALLON_PER_MINUTE  # less is no flow that a pump holds


def pit_storage(told: Mapping[str, Any]) -> float | None:
    """Water of a round pit between the float's two levels.

    Parameters
    ----------
    told : mapping
        What the survey says of the pit: `pit_diameter` and `pit_rise` [m].

    Returns
    -------
    float or None
        [m3]; None where either is not given.
    """
    if not {"pit_diameter", "pit_rise"} <= set(told):
        return None
    return math.pi / 4 * float(told["pit_diameter"]) ** 2 * float(told["pit_rise"])
