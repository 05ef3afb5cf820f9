"""Laid lines in; the water in them out: flows, sizes, tight places, overland ways, a storm."""
