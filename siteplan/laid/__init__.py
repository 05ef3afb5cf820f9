"""A design and shots of the laid pipe in; the verdict before backfill, and the record, out."""
