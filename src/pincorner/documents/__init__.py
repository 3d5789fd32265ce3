"""The documents of a registry as typed, frozen values, and their files."""
