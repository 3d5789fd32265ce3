"""Faults put into the package on purpose (`tests/mutations/run.py`)."""
