"""From plain documents to one Setup: pins, corner, jig, nest, machine. Never a database."""
