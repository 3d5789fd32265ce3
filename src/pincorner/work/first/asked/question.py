"""A question of the guided set-up as a value, and what several of them share.

What nobody knows is left out of the documents; nothing that could hurt somebody is guessed.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, NamedTuple

from pincorner.units import Unit, told_size
from pincorner.work.first.asked.typed import (
    NOT_KNOWN,
    Amount,
    Asks,
    Choice,
    Option,
    Read,
    Reader,
    Said,
    Wanted,
    as_told,
    is_not_known,
    length,
    must_not_turn_round,
    odd,
    unread,
    words_of,
)

Doubts = Callable[[Any, Said], list[str]]
Default = Callable[[Said], str | None]


def usual(metric: str, inch: str | None = None) -> Default:
    """A default that depends on the unit alone."""
    return lambda said: inch if inch is not None and said.unit == "in" else metric


def same_as(key: str) -> Default:
    """The default is the answer to an earlier question."""
    return lambda said: said.text(key)


def no_default(said: Said) -> str | None:
    """No default: it has to be said."""
    return None


UNKNOWN = usual(NOT_KNOWN)


def tells_spread(value: Amount, said: Said) -> str:
    """An error that two of three are within, and what nearly all are within: thrice that, where
    they are scattered evenly about their middle (JCGM 100, G.1.3: 99.73 of 100)."""
    two, all_ = (told_size(many * value.mm, said.unit) for many in (1, 3))
    return f"two in three within {two}, nearly all within {all_}"


def size_doubts(low_mm: float, high_mm: float, what: str) -> Doubts:
    """Doubts about one length or several that are beyond what is usual."""

    def doubts(value: Any, said: Said) -> list[str]:
        listed = value if isinstance(value, list) else [value]
        found = [line for each in listed for line in odd(each, low_mm, high_mm, what, said.unit)]
        return list(dict.fromkeys(found))

    return doubts


def is_none(text: str) -> bool:
    """Whether somebody says that there is none, or never."""
    said_so = words_of(text)
    return said_so[:1] in (["none"], ["no"], ["0"], ["never"]) or said_so[:3] == [
        "not",
        "at",
        "all",
    ]


def none_or_length(most_mm: float) -> Reader:
    """A reader of how far something may go; never is 0."""

    def read(text: str, said: Said) -> Read:
        if is_none(text) and not re.search("[1-9]", text):
            return Read(Amount("0", 0.0), "0", tuple(words_of(text.replace("at all", ""))[1:]))
        return length(0, most_mm)(text, said)

    return read


def always(said: Said) -> bool:
    return True


def never(said: Said) -> bool:
    return False


def is_short(said: Said) -> bool:
    """Whether only what the first sheet needs is asked for today."""
    return bool(said["extent"] == "short")


def no_doubt(value: Any, said: Said) -> list[str]:
    return []


def tells_lengths(value: Any, said: Said) -> str:
    """Lengths as they were understood; of other answers themselves."""
    listed = value if isinstance(value, list) else [value]
    if listed and all(isinstance(each, Amount) for each in listed):
        return as_told(listed, said.unit)
    return str(value)


class Question(NamedTuple):
    """One question: its key, what it is about, its words, what reads an answer, when it is asked.

    about: in words of the trade, for lists of what was left out. default: what Enter answers, from
    what was said before; None: it has to be answered. help: what `?` tells. sample: an answer that
    would do, for pictures of what is not yet said. examples: answers as people type them, for `?`
    and refusals; each of them is taken. optional: `not known` is an answer; unknown: what that
    comes to. doubts: what is odd about an answer, and passes when Enter says it again. cannot: what
    of an answer cannot be at a machine as it was described; it is refused. tells: an answer as it
    was understood. listed: the answers that there are. waits: when it is not asked, but taken from
    options and files. shown: a default in brackets, where it stands there otherwise than it is
    kept.

    Words, help and examples may hold {metric|inch}, what depends on the shop's unit.
    """

    key: str
    about: str
    words: str | Callable[[Said], str]
    read: Reader
    default: Default
    help: str
    asked: Callable[[Said], bool] = always
    optional: bool = False
    unknown: str = ""
    doubts: Doubts = no_doubt
    cannot: Doubts = no_doubt
    sample: str = "0 0"
    examples: tuple[str, ...] | Callable[[Said], tuple[str, ...]] = ()
    tells: Callable[[Any, Said], str] = tells_lengths
    listed: Callable[[Said], tuple[Option, ...]] = lambda said: ()
    waits: Callable[[Said], bool] = never
    shown: Callable[[str, Said], str] = lambda text, said: text

    @property
    def may_be_open(self) -> bool:
        """Whether what comes behind can be read without an answer to it."""
        return self.optional or self.waits is not never

    def told_words(self, said: Said) -> str:
        """The words, from what was said before."""
        words = self.words if isinstance(self.words, str) else self.words(said)
        return _in_words_of(words, said.unit)

    def told_help(self, said: Said) -> str:
        """What `?` tells, with examples."""
        told_examples = "; ".join(self.told_examples(said))
        examples = f" For example: {told_examples}." if told_examples else ""
        return _in_words_of(self.help, said.unit) + examples

    def told_examples(self, said: Said) -> tuple[str, ...]:
        """Answers as people type them."""
        found = self.examples if isinstance(self.examples, tuple) else self.examples(said)
        return tuple(_in_words_of(each, said.unit) for each in found)

    def example(self, said: Said) -> str:
        """One of them, for a refusal."""
        return next(iter(self.told_examples(said)), "") or self.default(said) or self.sample

    def answer(self, text: str, said: Said) -> Read:
        """What an answer says, as it is kept, and the words of it that were not read: those that
        may carry something. Raises ValueError for one that is not of the form, or cannot be."""
        if is_not_known(text):
            if self.optional:
                return Read(None, NOT_KNOWN)
            raise ValueError("this has to be known; ? tells more, quit keeps what was answered")
        try:
            found = self.read(text, said)
        except Wanted as wanted:
            many = len(self.listed(said))
            if many > 2:
                number = f"a number from 1 to {many}, or the word behind it"
                raise ValueError(f"expected {number}; got {text!r}") from None
            raise ValueError(wanted.with_example(self.example(said))) from None
        if found.value is not None and (cannot := self.cannot(found.value, said)):
            raise ValueError("; ".join(cannot))
        if not found.rest:
            return found
        listed = " ".join(f"{each.word} {each.means}" for each in self.listed(said))
        rest = unread(found.rest, f"{self.told_words(said)} {listed}")
        if isinstance(found.value, Amount | list | dict):
            must_not_turn_round(rest)
        return found._replace(rest=tuple(rest))

    def heard(self, found: Read, said: Said) -> str:
        """How an answer was understood."""
        if found.kept == NOT_KNOWN:
            return f"not known: {self.unknown}" if self.unknown else "not known"
        return self.tells(found.value, said.with_answer(self.key, found.kept, found.value))

    def must_be_sure(self, found: Read, said: Said) -> None:
        """Raise Asks for an answer that is odd, or of which not all was read."""
        doubts = [] if found.value is None else self.doubts(found.value, said)
        if found.rest:
            words = " and ".join(f'"{each}"' for each in found.rest)
            doubts = [f"{self.heard(found, said)}; nothing is read of {words}", *doubts]
        if doubts:
            raise Asks("; ".join(doubts), found.kept)


def _in_words_of(text: str, unit: Unit) -> str:
    """A text with what stands in it as {metric|inch} in that unit."""
    return re.sub(
        r"\{([^|{}]*)\|([^{}]*)\}", lambda match: match[2] if unit == "in" else match[1], text
    )


def is_(key: str, *words: str) -> Callable[[Said], bool]:
    return lambda said: said[key] in words


def chosen(
    key: str,
    about: str,
    words: str | Callable[[Said], str],
    choice: Choice,
    default: Default,
    help_: str,
    **more: Any,
) -> Question:
    """A question with a few answers."""
    return Question(
        key, about, words, choice, default, help_,
        **{
            "listed": lambda said: choice.options,
            "tells": lambda value, said: choice.means(value),
            **more,
        },
    )  # fmt: skip


SIZE = length(0.01, 20_000)
