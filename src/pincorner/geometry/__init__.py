"""Plane geometry: poses, contact with pins, outlines, uncertainty. No documents, no stations."""
