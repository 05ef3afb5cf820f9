"""The whole yard at once.

Which sources share which line to which outlet, its inverts, its rows, and what would serve the others.
"""
