"""Questions about the pins."""

from __future__ import annotations

from pincorner.units import told, told_size
from pincorner.work.first.asked.bed import surface_of
from pincorner.work.first.asked.question import (
    SIZE,
    UNKNOWN,
    Question,
    always,
    no_default,
    size_doubts,
    usual,
)
from pincorner.work.first.asked.typed import Amount, Said, length, odd


def shank_examples(said: Said) -> tuple[str, ...]:
    """A pin that goes into the hole."""
    hole, play_mm = said["hole"], 0.1 if said.unit == "mm" else 0.127
    return ("{19.9|0.745}",) if hole is None else (told_size(hole.mm - play_mm, said.unit),)


def shank_cannot(value: Amount, said: Said) -> list[str]:
    """A pin that is wider than its hole."""
    if said["hole"] and value.mm > said["hole"].mm:
        hole = told_size(said["hole"].mm, said.unit)
        return [
            f"a pin of {told_size(value.mm, said.unit)} does not go into a hole of {hole} "
            "(back hole changes that)"
        ]
    return []


def shank_doubts(value: Amount, said: Said) -> list[str]:
    """A pin that is far from usual, or hangs loose."""
    doubts = odd(value, 3, 60, "a pin", said.unit)
    if said["hole"] and not doubts and value.mm < said["hole"].mm * 0.8:
        doubts = [f"it has {told(said['hole'].mm - value.mm, said.unit, 2)} of play in its hole"]
    return doubts


def body_doubts(value: Amount, said: Said) -> list[str]:
    """A pin that is far from usual where the work touches it, or far thicker or thinner there."""
    doubts, shank = odd(value, 3, 100, "a body", said.unit), said["shank"]
    if not doubts and shank and not shank.mm / 2 <= value.mm <= 1.25 * shank.mm:
        told_so = f"{told_size(value.mm, said.unit)} thick above, {told_size(shank.mm, said.unit)}"
        doubts = [f"a pin {told_so} in its hole: its thickness, and not its height?"]
    return doubts


PINS: tuple[Question, ...] = (
    Question(
        "shank",
        "how thick a pin is in the hole",
        "How thick is a pin in the hole (the diameter)?",
        SIZE,
        no_default,
        "As measured, best with a calliper: what it is thinner than its hole is play, by half of "
        "which the work gives way when it is pushed home.",
        doubts=shank_doubts,
        cannot=shank_cannot,
        examples=shank_examples,
    ),
    Question(
        "body",
        "how thick a pin is above the bed",
        "How thick is it above the bed, where the work touches it?",
        SIZE,
        lambda said: said["shank"].written if said["shank"] else None,
        "As measured: half of it is the distance from the hole to the work.",
        doubts=body_doubts,
        examples=("{20|0.75}",),
    ),
    Question(
        "pin_height",
        "how high a pin stands",
        lambda said: f"How high does a pin stand above {surface_of(said)}?",
        SIZE,
        usual("15", "1/2"),
        "From where its hole begins, without a sheet that is laid under some work. `pincorner "
        "check` looks whether the cutter runs into it.",
        doubts=size_doubts(2, 150, "a height"),
        examples=("{15|1/2}",),
    ),
    Question(
        "in_hole",
        "how deep a pin goes into the hole",
        "How deep does a pin go into the hole?",
        length(0.01, 200),
        UNKNOWN,
        "How much it may lean follows from it.",
        optional=True,
        examples=("{15|5/8}",),
        waits=always,
    ),
)
