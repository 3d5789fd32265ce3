"""The bed and its stations drawn: one scene of named shapes, and what writes it."""
