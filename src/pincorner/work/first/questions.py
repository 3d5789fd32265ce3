"""All questions of the guided set-up, in the order in which they are asked: the walk over them is
one loop (`walk.py`)."""

from __future__ import annotations

from pincorner.work.first.asked.bed import BED
from pincorner.work.first.asked.machine import MACHINE
from pincorner.work.first.asked.piece import PIECE
from pincorner.work.first.asked.pins import PINS
from pincorner.work.first.asked.place import PLACE
from pincorner.work.first.asked.question import Question, chosen, usual
from pincorner.work.first.asked.typed import Said, yes_or_no

_PARTS = {"MACHINE": MACHINE, "BED": BED, "PINS": PINS, "PIECE": PIECE, "PLACE": PLACE}
QUESTIONS: tuple[Question, ...] = tuple(each for part in _PARTS.values() for each in part)
"""All questions, in the order in which they are asked."""


def part_of(question: Question) -> str:
    """Which part of the way a question stands in, as `BED, 2 of 5`; nothing for the last one."""
    for number, (part, questions) in enumerate(_PARTS.items(), 1):
        if question in questions:
            return f"{part}, {number} of {len(_PARTS)}"
    return ""


WRITE = chosen(
    "write", "the end", "Write it all, and a setup sheet: yes or no?", yes_or_no(), usual("yes"),
    "back: to the last question. no, or quit: what was answered is kept.",
    examples=("yes", "no"), listed=lambda said: (),
)  # fmt: skip
"""The last one, whose answer is not kept."""


def paper_of(said: Said) -> str:
    """The paper that was named, or is usual in the shop's unit."""
    return str(said["paper"] or ("letter" if said.unit == "in" else "a4"))
