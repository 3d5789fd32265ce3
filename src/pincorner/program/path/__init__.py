"""What is taken of motions: boxes, sections, extents, drawn points, times."""
