"""Flow by run, capacity, water surface."""
