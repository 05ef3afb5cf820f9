"""A stored plan in.

Files for drawing offices, maps, instruments and spreadsheets out, in the survey's own system and unit.
"""
