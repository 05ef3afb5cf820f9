"""A rainfall table, or a series of one's own, in; the rain of a design storm block by block out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from siteplan.water.rain import MINUTE, Rainfall, read_rain
from siteplan.water.trouble import above_zero, at_least_zero


@dataclass(frozen=True, slots=True, kw_only=True)
class Hyetograph:
    """Rain as it falls: block ends after 0 [s], intensity within each block [m/s], and where it comes from."""

    ends: tuple[float, ...]
    intensities: tuple[float, ...]
    source: str

    def __post_init__(self) -> None:
        if len(self.ends) != len(self.intensities) or not self.ends:
            raise ValueError(
                f"{len(self.ends)} block ends for {len(self.intensities)} intensities: give one for each, at least one"
            )
        before = 0.0
        for end, intensity in zip(self.ends, self.intensities, strict=True):
            at_least_zero("rainfall intensity", intensity, "give the rate in the block, 0 when dry")
            if not (math.isfinite(end) and end > before):
                raise ValueError(f"block ends do not rise at {end:g} s: sort the series, each time once")
            before = end

    @property
    def depth(self) -> float:
        """Rain over the whole series [m]."""
        starts = (0.0, *self.ends[:-1])
        return math.fsum(
            (end - start) * rate for start, end, rate in zip(starts, self.ends, self.intensities, strict=True)
        )


def alternating_blocks(rain: Rainfall, duration: float, block: float) -> Hyetograph:
    """A design storm whose every centred part has the table's depth.

    Largest block in the middle, the next after it, then before.

    Parameters
    ----------
    rain : Rainfall
        A table of durations that reaches `duration`.
    duration : float
        Length of the storm, a whole number of blocks [s].
    block : float
        Length of a block, not shorter than the table's shortest row [s].

    Returns
    -------
    Hyetograph
        The storm.

    Raises
    ------
    ValueError
        If the rainfall is one intensity, the table is too short, or the duration is not a whole number of blocks.

    References
    ----------
    Alternating block method; Chow, Maidment, Mays, Applied Hydrology (1988), sec. 14.4 (memory).
    """
    above_zero("block", block, "give its length in seconds")
    above_zero("storm duration", duration, "give its length in seconds")
    count = round(duration / block)
    if count < 1 or not math.isclose(count * block, duration, rel_tol=1e-9):
        raise ValueError(
            f"a storm of {duration:g} s is no whole number of blocks of {block:g} s: choose lengths that divide"
        )
    if rain.durations is None:
        raise ValueError(
            "alternating blocks need a table of durations: one intensity says nothing of how the rain changes"
        )
    if block < rain.durations[0] * (1 - 1e-9):
        raise ValueError(
            f"blocks of {block:g} s are shorter than the table's first row of {rain.durations[0]:g} s: take "
            "longer blocks"
        )
    depths = [0.0]
    for place in range(1, count + 1):
        rate = read_rain(rain, block * place).intensity
        if rate is None:
            raise ValueError(
                f"the rainfall table ends before the storm's {duration:g} s: take a shorter storm or a longer table"
            )
        depths.append(rate * block * place)
    parts = sorted((after - before for before, after in pairwise(depths)), reverse=True)
    middle = (count - 1) // 2
    placed: dict[int, float] = {}
    for number, part in enumerate(parts):
        shift = (number + 1) // 2
        place = middle + shift if number % 2 else middle - shift
        placed[place] = part
    return Hyetograph(
        ends=tuple(block * (place + 1) for place in range(count)),
        intensities=tuple(max(part, 0.0) / block for part in (placed[place] for place in range(count))),
        source=f"alternating blocks of {block / MINUTE:g} min from: {rain.source}",
    )
