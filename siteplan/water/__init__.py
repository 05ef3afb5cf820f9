"""Flow by run, capacity, water surface.

Files in the order of use: trouble (what the others say when a number cannot be), section, capacity, runs, rain, sump,
sizes, links, surface, standing, hyetograph, overflow, storm. Everything works on plain values; the spine maps lines
onto them.
"""
