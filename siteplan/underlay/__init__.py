"""A plat or photo to draw over: how large it is, and where it lies by known points. It is never read as data."""
