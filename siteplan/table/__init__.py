"""The drawing table: a site folder laid out by hand on a page of this machine. Folder in.

Folder, changed only by what was drawn, out.
"""
