"""A line in; out: its inverts.

Legal everywhere, few grades, least digging, or how much is missing and what would mend it.
"""
