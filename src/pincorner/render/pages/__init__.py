"""Whole pages and drawings that stand alone."""
