"""What `--json` prints: each report's JSON as types, made from what a command found.

Nothing of this is imported but by a command that prints JSON or a schema.
"""
