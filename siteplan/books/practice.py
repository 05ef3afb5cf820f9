"""Figures of practice that more than one room works with: each with its source, or said to be common practice."""

from siteplan import units

PAIR_DOUBT = 0.02 * units.FOOT  # m; difference of two shots of one set-up; common practice, no source
