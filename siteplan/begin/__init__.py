"""A site folder begun from whatever there is, and what it still lacks."""
