"""Places on pipes that lie there already in.

The same out, each with the invert that nothing but a shot of the pipe can give.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from siteplan.books.kinds import into_pipe
from siteplan.errors import NotGiven, raise_gathered
from siteplan.site import Feature
from siteplan.survey.files import said


def old_pipes_told(features: Sequence[Feature], places: Mapping[tuple[str, int], str]) -> tuple[str, ...]:
    """Whether every tie-in says how deep its old pipe lies, and what is not known of it.

    Parameters
    ----------
    features : sequence of Feature
        Of the site.
    places : mapping
        File and number of a feature to where it stands, for messages.

    Returns
    -------
    tuple of str
        Assumptions for the plan.

    Raises
    ------
    InputError, InputErrors
        For a tie-in without an invert: the ground over an old pipe does not tell its depth.
    """
    faults, notes = [], []
    for one in features:
        if not into_pipe(one.kind):
            continue
        place = places.get((one.file, one.number), said(one.name, 60))
        if "invert" not in one.attributes:
            mend = "Expose the old pipe, shoot its invert and give invert."
            faults.append(NotGiven(place, "is a tie-in without the invert of its old pipe", mend))
        if "diameter" not in one.attributes:
            notes.append(f"{place}: the inside of the old pipe is not known (diameter_in or diameter_mm); measure it")
        if "takes_flow" not in one.attributes:
            notes.append(
                f"{place}: what the old pipe can still take is not known (takes_gpm or takes_lps); ask its owner"
            )
    raise_gathered(faults)
    return tuple(notes)
