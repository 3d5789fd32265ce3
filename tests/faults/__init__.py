"""Faults on purpose: kills, several writers, hostile inputs, sizes (`tests/faults/run.py`)."""
