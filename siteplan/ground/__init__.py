"""Site in; out: the surface, its wet low spots, and where surface water runs."""
