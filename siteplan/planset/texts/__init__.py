"""Pages of a plan set that are words and tables."""
