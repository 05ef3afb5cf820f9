"""A stored plan in; drawings on paper at a written scale out: shapes in millimetres of a page, which a PDF or an SVG shows alike."""
