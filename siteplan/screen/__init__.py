"""Which of many lots could drain by gravity at all.

Parcels, buildings, streets and public elevation in, a state for each lot out.
"""
