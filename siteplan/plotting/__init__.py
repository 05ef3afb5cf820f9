"""A stored plan in; drawings on paper at a written scale out.

Shapes in millimetres of a page, which a PDF or an SVG shows alike.
"""
