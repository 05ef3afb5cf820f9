"""Parts of a plan that a fault of ours left out, in words for every sheet."""

from __future__ import annotations

from siteplan.values.told import MissingPart, PartName

_NAMES: dict[PartName, str] = {
    "inflows": "what roofs, pumps and drains bring",
    "surface-water": "where surface water runs",
    "low-spots": "wet low spots, which lines may now cross unseen",
    "inlet-flows": "flows into the inlets",
    "sizes": "sizes of pipe for the flow; the smallest on offer is laid",
    "found-outlets": "daylight points that the tool finds by itself",
    "finer-net": "the fine net",
    "improving": "moved bends and wyes",
    "candidates": "the list of ways tried",
    "sharing": "why sources share lines or are kept apart",
    "parting": "the parting of lines that meet",
    "margins": "the margins of the lines and the grades that a crew sets",
    "pipes": "pipe by reach, weak ground and the forecast of standing water",
    "stakes": "stakes a hand's breadth apart as one",
    "doubt": "doubt and chance of the fall",
    "chances": "doubt and chance of the ways tried",
    "attempts": "changes that would serve a source without a line",
    "own-joined": "drawn lines that join those of this planner",
    "mends": "what would mend drawn lines that break a rule",
    "water": "capacities and water levels",
    "blocked-outlets": "where water stands when an outlet is blocked",
    "outlet-paths": "where water goes from the outlets",
    "storm": "the storm test",
    "notes": "some of the assumptions",
    "check": "a check of the plan",
    "profiles": "the profiles below the map",
    "map": "the map",
    "printed": "the sheets to scale that the map page prints",
    "quantities": "the quantities",
    "layouts": "other layouts to choose from",
}


def missing_text(part: MissingPart) -> str:
    """One sentence: which part is missing, and that this is a fault of ours.

    Parameters
    ----------
    part : MissingPart
        What was left out.

    Returns
    -------
    str
        With the subject and the kind of fault.
    """
    of = f" ({part.subject})" if part.subject else ""
    return (
        f"NOT KNOWN, by a fault of ours: {_NAMES[part.part]}{of}. The rest of the plan stands without it. "
        f"Run again with --debug and send the report ({part.fault})"
    )
