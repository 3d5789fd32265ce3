"""`python -m pincorner`."""

from pincorner.cli.main import run

run()
