"""A site folder in: site.toml, features, grid. Out.

Site, in metres and one frame, with digests, assumptions and evidence.
"""
