"""Frozen values that more than one room handles. SI throughout; coordinates are east, north in the plan's frame.

Every length is in metres, grade is a ratio, flow in cubic metres a second, angles in degrees.
Stations run from a line's outlet (0) upstream.
"""
