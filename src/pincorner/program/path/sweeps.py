"""What a reading of a program tells besides its motions."""

from __future__ import annotations

from collections.abc import Sequence

from pincorner.program.path.frames import frame_of
from pincorner.program.reader.reading import reading_of
from pincorner.program.reader.summary import Summary
from pincorner.program.source.text import ProgramText
from pincorner.setups.setup import Setup


def read_summary(text: ProgramText, setup: Setup, nests: Sequence[Setup]) -> Summary:
    """What a reading of the program tells besides its motions. Raises BadInput."""
    reading = reading_of(text, frame_of(setup, nests))
    for _ in reading.motions(text):
        pass
    return reading.summary
