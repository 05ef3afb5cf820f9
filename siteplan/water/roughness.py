"""A pipe and what roughness is asked of it in; Manning n out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from siteplan.books.pipes import roughness_of
from siteplan.values.laid_pipe import Pipe
from siteplan.water.colebrook import equal_roughness
from siteplan.water.sizes import SMOOTH

_FLATTEST = 0.001  # grade at which the n of a level piece is taken


def manning_n(
    pipe: Pipe, age: str, kb: float | None, grade: float, own: Mapping[str, Mapping[str, Any]] | None = None
) -> float:
    """Manning n of a pipe for sizing.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    age : str
        'design': the pipe's own; 'new' or 'aged': as the book of pipes has it for the kind.
    kb : float or None
        Roughness in use that smooth pipe is sized by [m]; None: by n.
    grade : float
        Fall over length, for kb alone [-].
    own : mapping of str to mapping, optional
        The site's [pipes] tables.

    Returns
    -------
    float
        [s/m^(1/3)]; the pipe's own where the book does not know its kind; with kb the n of the same full flow.

    References
    ----------
    `siteplan.books.pipes.roughness_of`, with a source at every row.
    """
    if kb is not None and pipe.roughness <= SMOOTH:
        return equal_roughness(pipe.bore, max(grade, _FLATTEST), kb)
    if age == "design":
        return pipe.roughness
    try:
        entry = roughness_of(pipe.kind, own)
    except KeyError:
        return pipe.roughness
    return entry.new if age == "new" else entry.aged
