"""The bedding of a reach in; what the crew puts under and beside the pipe, in words, out."""

from __future__ import annotations

from siteplan.bedding.trench import fact
from siteplan.trench.pipe_words import small
from siteplan.values.laid_pipe import Bedding
from siteplan.values.lines import Reach


def bedding_words(reach: Reach, unit: str) -> str:
    """What to put under and beside the pipe of a reach, for schedule and map.

    Parameters
    ----------
    reach : Reach
        For its bedding and the outside diameter of its pipe.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One phrase; the rules behind it are in `bedding.trench.FACTS`.
    """
    layer = small(fact("backfill-layer").value or 0.0, unit)
    over_dig = small((fact("soft-over-dig").value or 0.0) * reach.pipe.od, unit)
    return {
        Bedding.STONE_BED: f"over-dig {over_dig} or more, tamped stone in {layer} layers",
        Bedding.STONE_BED_AND_SIDES: (
            f"over-dig {over_dig} or more, compacted stone in {layer} layers under the pipe and beside it to its top"
        ),
        Bedding.TAMPED_UNDER: f"dig clean; tamp what is loose under the pipe in {layer} layers",
        Bedding.STONE_SIDES: f"dig clean; compacted stone beside the pipe to its top, {layer} layers",
        Bedding.TAMPED_SIDES: f"dig clean; side fill and cover tamped in {layer} layers",
        Bedding.FIRM: "dig clean to grade, firm under the whole pipe",
    }[reach.bedding]
