"""Load, flotation, belly."""
