"""The questions of the guided set-up, by what they are about."""
