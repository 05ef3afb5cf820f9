"""A deed's calls in; corners, area and misclosure out, as plain values.

Nothing is spread that nobody asked to spread.
"""
