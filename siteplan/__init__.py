"""Buried lines for roof and sump water: lay out, prove, dig, check, review.

The data's path, which is also the order of the rooms (imports go up this list only):

units, errors, values, books   what everything else is said in
survey                         a site folder in, one frame, metres
ground                         surface, wet low spots, where surface water runs
routes                         where a line can arrive, which way is cheapest, straight runs
fall                           inverts along a line: legal, few grades, least digging
water, bedding                 does it fit, will it stay
layout                         the whole yard at once: sources, shared lines, outlets, rows
checks                         the rules, by arithmetic of their own
sheets                         plan.json, map, schedule
plan                           the spine that calls the rooms in this order
field, cli                     readings against a plan; the commands
"""

__version__ = "0.1.0"
