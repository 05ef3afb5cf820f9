"""Buried lines for roof and sump water: lay out, prove, dig, check, review.

The data's path, which is also the order of the rooms (imports go up this list only):

compiling, remembered, units, errors, values, books   what everything else is said in
site                 what was surveyed, nothing derived
survey               a site folder in, one frame, metres
ground               surface, wet low spots, where surface water runs
routes               where a line can arrive, which way is cheapest, straight runs
fall                 inverts along a line: legal, few grades, least digging
water, bedding       does it fit, will it stay: formulas on plain values
yard                 the whole yard at once: sources, shared lines, outlets, rows, what would serve the others
trench               a laid line: reaches of pipe, sleeves, weak ground, forecasts
waterworks           laid lines: flows, sizes, tight places, overland ways, a storm
checks               the rules, by arithmetic of their own
stored               plan.json -> Plan, the mirror of what writes it
sheets               every file anybody writes
plan                 the spine that calls the rooms in this order
quick, stakeout, laid, review   the field and the desk, apart from one another
cli, api             the commands, and the same for who writes Python
"""

__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """`siteplan.api`, the commands for who writes Python, loaded when it is asked for."""
    if name != "api":
        raise AttributeError(f"module 'siteplan' has no attribute {name!r}")
    from importlib import import_module

    return import_module("siteplan.api")
