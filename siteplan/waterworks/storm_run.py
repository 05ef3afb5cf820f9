"""The tree of runs, rims and the rain in; a storm through the whole network out, or why there is none."""

from __future__ import annotations

from collections.abc import Mapping

from siteplan import units
from siteplan.books.kinds import pumped
from siteplan.books.practice import FLOAT_TRAVEL
from siteplan.site import Site
from siteplan.values.flows_worked import StormTest
from siteplan.values.water_ends import Inflows, Source
from siteplan.water.hyetograph import Hyetograph, alternating_blocks
from siteplan.water.overflow import OverflowEntry, PitPump
from siteplan.water.pump import inflow_from_refill, pit_volume
from siteplan.water.rain import MINUTE, Rainfall
from siteplan.water.storm import run_storm
from siteplan.waterworks.carried import FlowNetwork

_HOUR = 60 * MINUTE
_BLOCK = 5 * MINUTE
PIT_DIAMETER, PIT_DEPTH = 18 * units.INCH, 24 * units.INCH  # least pit of IRC 2021 P3303.1.2 (read)


def storm_of(
    site: Site,
    inflows: Inflows,
    net: FlowNetwork,
    rims: Mapping[str, float],
    tails: Mapping[str, float],
    rain: Rainfall | None,
) -> tuple[StormTest | None, tuple[str, ...]]:
    """A storm through the whole network, quasi-steadily.

    Parameters
    ----------
    site : Site
        As surveyed, with its pits, and a storm of the user's own when he gives one.
    inflows : Inflows
        What its sources bring.
    net : Network
        The tree of runs.
    rims : mapping of str to float
        Where each source's water comes out [m].
    tails : mapping of str to float
        Water outside by the outlet's run [m].
    rain : Rainfall or None
        The rain.

    Returns
    -------
    tuple of StormTest or None, and tuple of str
        The test, and what was assumed or why it could not be run.

    References
    ----------
    Alternating blocks and quasi-steady routing: `siteplan.water.hyetograph`, `siteplan.water.storm`.
    """
    if not net.feeds:
        return None, ()
    unknown = [source.name for source in site.sources if source.id in net.feeds and inflows.of(source.id) is None]
    if unknown:
        return None, (f"No storm is run: what {', '.join(unknown)} brings is not known.",)
    storm, said = _storm(site, rain)
    notes = [said]
    fed = [source for source in site.sources if source.id in net.feeds]
    entries = [
        _entry(site, source, inflows.of(source.id), net.feeds[source.id], rims[source.id], notes) for source in fed
    ]
    try:
        result = run_storm(net.runs, entries, storm, dict(tails))
    except ValueError as error:  # water outside at or above a rim and the like: a fact about the site
        names = {source.id: source.name for source in site.sources}
        text = str(error)
        for ident, name in names.items():
            text = text.replace(f"of {ident} ", f"of {name} ")
        return None, (*notes, f"The storm could not be run: {text}.")
    lowest = {piece.line: piece.run.id for piece in reversed(net.pieces)}
    peaks = {run.run: run for run in result.runs}
    test = StormTest(
        source=storm.source,
        duration=storm.ends[-1],
        depth=storm.depth,
        sources=result.sources,
        peaks=tuple(
            (line, peaks[run].peak_flow, peaks[run].peak_at)
            for line, run in sorted(lowest.items(), key=lambda pair: _number(pair[0]))
        ),
        steps=tuple((one.start, one.end, one.rain, one.outflow, one.overflow) for one in result.intervals),
        inflow=result.inflow,
        outflow=result.outflow,
        overflow=result.overflow,
        flooded=result.flooded,
        stored=result.stored,
    )
    return test, tuple(notes)


def _number(line: str) -> tuple[int, str]:
    digits = "".join(mark for mark in line if mark.isdigit())
    return (int(digits) if digits else 0, line)


def _storm(site: Site, rain: Rainfall | None) -> tuple[Hyetograph, str]:
    series = site.rain.series
    if series:
        ends, rates = zip(*series, strict=True)
        storm = Hyetograph(ends=ends, intensities=rates, source=f"the site's own series ({site.rain.source})")
        return storm, f"Storm test: {storm.source}, {len(series)} blocks."
    if rain is None:
        return Hyetograph(
            ends=(_HOUR,), intensities=(0.0,), source="no rain: only pumps run"
        ), "Storm test: no rain is given, one hour with the pumps alone."
    if rain.durations is None:
        rate = rain.intensities[0]
        storm = Hyetograph(
            ends=(_HOUR,),
            intensities=(rate,),
            source=f"{units.rain_text(rate, site.length_unit)} for one hour; {rain.source}",
        )
        return (
            storm,
            (
                f"Storm test: the one intensity given, {units.rain_text(rate, site.length_unit)}, is held for an "
                "hour; a table of durations gives a storm that rises and falls."
            ),
        )
    block = max(_BLOCK, rain.durations[0])
    count = max(1, int(min(_HOUR, rain.durations[-1]) / block + 1e-9))
    if block > rain.durations[-1]:
        rate = rain.intensities[0]
        storm = Hyetograph(ends=(block,), intensities=(rate,), source=f"the table's one row; {rain.source}")
        return storm, f"Storm test: {storm.source}."
    storm = alternating_blocks(rain, count * block, block)
    return storm, f"Storm test: {storm.source}."


def _entry(site: Site, source: Source, flow: float | None, run: str, rim: float, notes: list[str]) -> OverflowEntry:
    if not pumped(source.kind):
        area = 0.0 if flow is None or not site.rainfall else flow / site.rainfall
        return OverflowEntry(source=source.id, run=run, rim=rim, yield_area=area)
    rate = flow or 0.0
    if rate <= 0:
        return OverflowEntry(source=source.id, run=run, rim=rim)
    told = site.told_of(source)
    across, travel = float(told.get("pit_diameter", PIT_DIAMETER)), float(told.get("pit_rise", FLOAT_TRAVEL))
    depth = float(told.get("pit_depth", PIT_DEPTH))
    volume = pit_volume(across, travel)
    reserve = pit_volume(across, depth - travel) if depth > travel else 0.0
    assumed = [
        name
        for name, key in (("diameter", "pit_diameter"), ("depth", "pit_depth"), ("float travel", "pit_rise"))
        if key not in told
    ]
    if assumed:
        size = (
            f"{units.length_text(across, site.length_unit)} across, {units.length_text(depth, site.length_unit)} "
            f"deep, float travel {units.length_text(travel, site.length_unit)}"
        )
        notes.append(
            f"{source.name}: its pit is taken as {size} (the least pit of the model codes; "
            f"{', '.join(assumed)} not given)."
        )
    if "refill_s" in told:
        inflow, start = inflow_from_refill(volume, float(told["refill_s"])), 0.0
    else:
        inflow, start = rate, volume
        notes.append(f"{source.name}: how soon its pit refills is not given, so the pump is taken to run throughout.")
    return OverflowEntry(
        source=source.id,
        run=run,
        rim=rim,
        pump=PitPump(rate=rate, volume=volume, reserve=reserve, inflow=inflow, start=start),
    )
