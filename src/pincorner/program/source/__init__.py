"""A program as text: its file, its lines, their words and comments, and a block stamped in."""
