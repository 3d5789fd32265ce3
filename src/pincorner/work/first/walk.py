"""The walk over the questions: one loop's state, its answers kept in a file, and what it ends with.

What was answered is on file before the next question is asked; a walk that was stopped, however it
was, goes on there.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

from pincorner.documents.fields import WholeDocument
from pincorner.documents.machines import Dialect
from pincorner.documents.reading import read_texts, text_of
from pincorner.documents.stations import EdgePins, Station
from pincorner.documents.writing import flow, plain_values
from pincorner.documents.yaml_tree import read_tree
from pincorner.errors import BadInput, DocumentErrors, Refused, suggestion
from pincorner.render.text.places import quoted
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import REGISTRY_FILE, is_file
from pincorner.work.first.drafting import (
    NOTHING_YET,
    Draft,
    SampleBlock,
    draft,
    sample_blocks,
    skew_of,
    texts_of,
)
from pincorner.work.first.heard import unheard, unheard_parts
from pincorner.work.first.plain import (
    NOT_KNOWN,
    Choice,
    OneByOne,
    Unclear,
    Wanted,
    is_not_known,
)
from pincorner.work.first.questions import QUESTIONS, WRITE, Question, paper_of
from pincorner.work.first.together import BESIDE, agrees
from pincorner.work.first.typed import Amount, Said, as_told, in_part
from pincorner.work.loading import Loaded, load, shipped_dialects
from pincorner.work.papers import file_stem, write_map, write_sheets
from pincorner.work.reports import names
from pincorner.work.session import Library, Session, open_session
from pincorner.work.shops import init_shop

ANSWERS_FILE = "start-answers.yaml"
DOCUMENTS = Path("documents")
_BY_KEY = {question.key: question for question in QUESTIONS}
_WRITTEN, _ONE_BY_ONE = "written", "one_by_one"
ONE_BY_ONE = "one at a time"
"""An answer to several questions in one."""

_TAKES_THE_DEFAULT = re.compile(
    r"(?i)(?:use |take )?(?:the |that )?default(?: is)?(?: fine| ok| okay| good)?[.!]?"
)
_HEAD = """\
# What was answered in pincorner start, which goes on from here. It takes such files too:
# pincorner start FOLDER --answers FILE
"""


@dataclass
class Walk:
    """Answers as far as they are given, and those that somebody went back behind.

    `digests`: of the documents that were written, by their kind. `sure`: odd answers that were
    told about once. `offered`: the questions whose default is an answer that was asked about,
    until another one is tried; each with the default of before. `opened`: the questions that ask
    several in one, whose members are asked one at a time; `whole`: those that were answered so,
    with the answer; `failed`: those that were answered in vain, at which Enter takes no default any
    more. `heard`: how the last answer was understood.
    """

    folder: Path
    db: str | None
    dialects: Sequence[WholeDocument]
    given: dict[str, str] = field(default_factory=dict)
    earlier: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)
    sure: set[tuple[str, str]] = field(default_factory=set)
    offered: dict[str, str | None] = field(default_factory=dict)
    opened: set[str] = field(default_factory=set)
    whole: dict[str, str] = field(default_factory=dict)
    failed: set[str] = field(default_factory=set)
    heard: str = ""
    said: Said = field(default_factory=Said)
    drafted: Draft = NOTHING_YET
    wrong: str = ""
    _made: tuple[dict[str, str], Draft] | None = None

    @property
    def file(self) -> Path:
        """Where the answers are kept."""
        return self.folder / ANSWERS_FILE

    def next(self) -> Question:
        """The first question that is not answered well; `WRITE` at the end.

        Reads all answers anew: those of questions that are not asked any more stay, unread.
        """
        self.said, self.wrong = Said(skew_mm=self._skew_mm, given=self.given), ""
        last = WRITE
        for question in QUESTIONS:
            if question.members:
                try:
                    is_whole = self._is_asked_whole(question)
                except (ValueError, Refused) as error:
                    self.wrong = f"{question.key}: {_told(error)}"
                    is_whole = self._is_asked_whole(question)
                if is_whole:
                    last = question
                    break
                continue
            is_said = question.key in self.given
            if not (is_said if question.volunteered else question.asked(self.said)):
                continue
            if not is_said:
                last = question
                break
            try:
                after = self._with(self.said, question, self.given[question.key])
                _must_be_possible(question, after[question.key], self.said)
            except ValueError as error:
                return self._again(question, error)
            self.said = after
        try:
            self.drafted = self._draft(self.said)
        except (BadInput, Refused):
            return self._first_wrong()
        return last

    def _is_asked_whole(self, question: Question) -> bool:
        """Whether several questions are to be asked in one; an answer to that, as a file has it, is
        given to them."""
        if question.key in self.given:
            self._give_whole(question, self.given.pop(question.key), is_sure=True)
        if question.key in self.opened or not question.asked(self.said):
            return False
        wanted = [_BY_KEY[key] for key in question.members if not _BY_KEY[key].volunteered]
        left = [each for each in wanted if each.key not in self.given]
        if question.rest_usual:
            return bool(left) and any(each.asked(self.said) for each in left)
        return bool(left) and len(left) == len(wanted)

    def _first_wrong(self) -> Question:
        """The question whose answer the documents cannot be made with."""
        said = Said(skew_mm=self._skew_mm, given=self.given)
        for key in self.said.texts:
            said = self._with(said, _BY_KEY[key], self.said.texts[key])
            try:
                self._draft(said)
            except (BadInput, Refused) as error:
                self.said = said
                return self._again(_BY_KEY[key], error)
        raise AssertionError("answers that draft one by one draft together")

    def _again(self, question: Question, error: Exception) -> Question:
        """Have a question asked once more."""
        self.earlier[question.key] = self.given.pop(question.key)
        self.said = self._before(question)
        self.wrong = f"{question.key}: {_told(error)}"
        self.drafted = self._draft(self.said)
        return question

    def _before(self, question: Question) -> Said:
        """What was said before a question."""
        said = Said(skew_mm=self._skew_mm, given=self.given)
        for key, text in self.said.texts.items():
            if key == question.key:
                break
            said = self._with(said, _BY_KEY[key], text)
        return said

    @staticmethod
    def _with(said: Said, question: Question, text: str) -> Said:
        """What is said after one more answer. Raises ValueError."""
        return said.with_answer(question.key, *read_answer(question, text, said))

    def _draft(self, said: Said) -> Draft:
        """The draft of answers, made once. Raises DocumentErrors, Refused."""
        made = self._made
        if made is None or made[0] != said.texts:
            made = dict(said.texts), draft(said, self.dialects)
            self._made = made
        return made[1]

    def _skew_mm(self, said: Said) -> float:
        try:
            return skew_of(self._draft(said), said)
        except (BadInput, Refused):
            return 0.0

    def blocks(self) -> list[SampleBlock]:
        """What the block of each shipped dialect would look like."""
        return sample_blocks(self.said, self.dialects)

    def default(self, question: Question) -> str | None:
        """What Enter answers: what was said before somebody went back, else the default.

        Who tried to answer meant something else than the default: then Enter takes it no more.
        """
        usual = question.default(self.said)
        if question.key in self.failed and usual != NOT_KNOWN:
            usual = None
        return self.earlier.get(question.key) or usual

    def give(self, question: Question, text: str) -> list[str]:
        """Take an answer, and keep it; or doubts about one that is odd, the first time.

        Raises ValueError, Refused for an answer that cannot be; Unclear for one that may mean more
        than one thing, with what Enter takes from then on.
        """
        try:
            return self._taken(question, text)
        except Unclear:
            raise
        except (ValueError, Refused):
            self.failed.add(question.key)
            raise

    def _taken(self, question: Question, text: str) -> list[str]:
        """Take an answer as `give` does."""
        text = self._meant_by(question, " ".join(text.split()))
        self.heard = ""
        asked_about = self.earlier.get(question.key) if question.key in self.offered else None
        if text != self.earlier.get(question.key):
            self._take_back(question.key)
        if question.members:
            return self._give_whole(question, text, asked_about)
        try:
            typed = text
            text, value = read_answer(question, text, self.said)
        except Unclear as unclear:
            if unclear.meant is not None:
                self._offer(question.key, unclear.meant)
            raise
        _must_be_possible(question, value, self.said)
        doubts = [] if value is None else question.doubts(value, self.said)
        if doubts and (question.key, text) not in self.sure:
            self.sure.add((question.key, text))
            self._offer(question.key, text)
            return doubts
        try:
            self._draft(self.said.with_answer(question.key, text, value))
        except DocumentErrors as error:
            raise ValueError(_told(error)) from None
        self.earlier.pop(question.key, None)
        self.offered.pop(question.key, None)
        self.given[question.key] = text
        heard = _heard(question, text, value, self.said)
        self.heard = "" if heard == typed else heard
        self.keep()
        return []

    def _meant_by(self, question: Question, text: str) -> str:
        """An answer; what `yes` or `the default` stand for. Raises Unclear for a `no` to what was
        asked about."""
        if _TAKES_THE_DEFAULT.fullmatch(text):
            default = self.earlier.get(question.key) or question.default(self.said)
            return text if default is None else default
        if question.key in self.offered and not isinstance(question.read, Choice):
            agreed = agrees(text)
            if agreed:
                return self.earlier[question.key]
            if agreed is False:
                self._take_back(question.key)
                self.failed.add(question.key)
                raise Unclear(f"then say it once more, such as {question.example(self.said)}")
        return text

    def _give_whole(
        self, question: Question, text: str, before: str | None = None, is_sure: bool = False
    ) -> list[str]:
        """Give an answer to several questions in one: each gets its part of it, or of the one
        `before` that was asked about, or its default; what is left is asked by itself. Doubts about
        one that is odd, the first time.

        Raises what giving it to one of them does, with the others given.
        """
        parts = self._parts_of(question, text)
        if parts is None and is_sure and text != ONE_BY_ONE and agrees(text) is None:
            raise ValueError(f"what of {_quoted([text])}? Such as {question.example(self.said)}")
        if parts is None:
            self.opened.add(question.key)
            self.keep()
            return []
        if parts and before is not None:
            parts = {**(self._parts_of(question, before) or {}), **parts}
        said, told_so, doubts = self.said, list[str](), dict[str, list[str]]()
        taken: dict[str, str] = {}
        stopped: ValueError | None = None
        is_lost = False
        for key in (*question.members, *question.also):
            member = _BY_KEY[key]
            is_more = member.volunteered or key in question.also
            is_asked = key in parts if is_more else member.asked(said)
            part = parts.get(key) or (self._usual_of(member, question, said) if is_asked else None)
            if not is_asked or part is None:
                if part is not None:
                    told_so.append(f"{member.label} left aside: {member.needless}")
                continue
            try:
                kept, value = read_answer(member, part, said)
                _must_be_possible(member, value, said)
            except ValueError as error:
                is_lost = is_lost or isinstance(error, Unheard)
                stopped = stopped or _of(member, error)
                self.failed.add(key)  # Enter takes no default that was not meant
                if isinstance(error, Unclear) and error.meant is not None and not is_sure:
                    self._offer(key, error.meant)
                continue
            if value is not None and (found := member.doubts(value, said)):
                doubts[key] = found
            if key in question.also:
                kept = _in_figures(member, value, said) or kept
            said, taken[key] = said.with_answer(key, kept, value), kept
            if key in parts:
                told_so.append(f"{member.label} {_heard(member, kept, value, said)}")
            elif value is None and parts:
                told_so.append(f"{member.label or key} not known")
        if beside := parts.get(BESIDE):
            told_so.append(f"beside that: {beside}")
        known = [part for part in parts.values() if part != NOT_KNOWN]
        lost = unheard_parts(text, known, question.hears, said) if known else []
        if lost and is_sure:
            raise ValueError(f"what of {_quoted(lost)}?")
        if lost or is_lost:
            left = [key for key in question.members if self._is_left(key, parts, said)]
            if left:  # what is not sure is asked by itself
                taken = {key: kept for key, kept in taken.items() if key not in left}
                said = self._said_of(taken)
                asks = f"and {_quoted(lost)}? Say it where it belongs: that is asked now"
                stopped = stopped or Unclear(asks)
                doubts, told_so = {}, [each for each in told_so if not each.endswith("not known")]
                self.opened.add(question.key)
            elif lost:
                doubts[""] = [f"And what of {_quoted(lost)}? Say that otherwise."]
        if doubts and not is_sure and (question.key, text) not in self.sure:
            if not stopped:
                self.sure.add((question.key, text))
                self._offer(question.key, text)
                self.heard = "; ".join(told_so)
                return [line for found in doubts.values() for line in found]
            taken = {key: kept for key, kept in taken.items() if key not in doubts}
        is_offered = isinstance(stopped, Unclear) and stopped.meant is not None
        if stopped and not taken and question.key not in self.failed and not is_offered:
            self.failed.add(question.key)
            self.heard = "; ".join(told_so)
            raise stopped
        self._take_whole(question, text, said, taken)
        self.heard = "; ".join(told_so)
        if stopped:
            raise stopped
        return []

    def _is_left(self, key: str, parts: Mapping[str, str], said: Said) -> bool:
        """Whether one of several questions was not answered with the others."""
        member = _BY_KEY[key]
        return key not in parts and not member.volunteered and member.asked(said)

    def _said_of(self, taken: Mapping[str, str]) -> Said:
        """What was said, with these answers."""
        said = self.said
        for key, text in taken.items():
            said = self._with(said, _BY_KEY[key], text)
        return said

    def _parts_of(self, question: Question, text: str) -> Mapping[str, str] | None:
        """What of an answer belongs to which question; None where they are asked one at a time."""
        members = [_BY_KEY[key] for key in question.members]
        if text == ONE_BY_ONE:
            return None
        if is_not_known(text) and all(each.optional for each in members):
            return {each.key: NOT_KNOWN for each in members}
        try:
            found: Mapping[str, str] = question.read(text, self.said)
        except OneByOne:
            return None
        return found

    def _usual_of(self, member: Question, question: Question, said: Said) -> str | None:
        """What counts where nothing was said of one of several questions; None: it is asked."""
        if member.key not in question.usual:
            return None
        return self.given.get(member.key) or member.default(said)

    def _take_whole(
        self, question: Question, text: str, said: Said, taken: Mapping[str, str]
    ) -> None:
        """Keep the answers that one answer gave to several questions."""
        try:
            self._draft(said)
        except DocumentErrors as error:
            raise ValueError(_told(error)) from None
        self.given |= taken
        left = [
            key
            for key in question.members
            if key not in self.given and not _BY_KEY[key].volunteered and _BY_KEY[key].asked(said)
        ]
        if left and (question.rest_usual or not taken):
            self.opened.add(question.key)
        for key in (question.key, *taken):
            self.earlier.pop(key, None)
            self.offered.pop(key, None)
        self.whole[question.key] = text
        self.keep()

    def _offer(self, key: str, text: str) -> None:
        """Have Enter take an answer that was asked about."""
        self.offered.setdefault(key, self.earlier.get(key))
        self.earlier[key] = text

    def _take_back(self, key: str) -> None:
        """What was asked about is no default any more: something else was said, or is done."""
        if key not in self.offered:
            return
        before = self.offered.pop(key)
        if before is None:
            self.earlier.pop(key, None)
        else:
            self.earlier[key] = before

    def back(self, to: str | None = None) -> bool:
        """Go back to the question before, or to one by its key; whether there is one.

        Before the first of several that are asked one at a time, that is the question that asks
        them in one.
        """
        here = self.next()
        answered = [question.key for question in QUESTIONS if question.key in self.said.texts]
        whole = _whole_of(here.key)
        is_first = whole is not None and not any(key in self.given for key in whole.members)
        if to is None and whole is not None and whole.key in self.opened and is_first:
            self.opened.discard(whole.key)
            return True
        if to in _BY_KEY and _BY_KEY[to].members:
            self.opened.discard(to)
            to = next((key for key in _BY_KEY[to].members if key in answered), to)
        elif to is not None and to in answered and (whole := _whole_of(to)) is not None:
            self.opened.add(whole.key)
            self.whole.pop(whole.key, None)
        if not answered or (to is not None and to not in answered):
            return False
        for key in list(self.offered):
            self._take_back(key)
        while answered:
            key = answered.pop()
            gone = self._back_behind(key)
            answered = [each for each in answered if each not in gone]
            if to is None or to in gone:
                break
        return True

    def _back_behind(self, key: str) -> list[str]:
        """Take back an answer, and with it those that were said in one; their keys."""
        whole, gone = _whole_of(key), [key]
        if whole is not None and whole.key in self.whole:
            gone = [each for each in whole.members if each in self.given]
            self.earlier[whole.key] = self.whole.pop(whole.key)
            self.opened.discard(whole.key)
        elif whole is not None:  # of another day, kept one by one: so they are asked, as they were
            self.opened.add(whole.key)
        for each in gone:
            self.earlier[each] = self.given.pop(each)
        return gone

    def keep(self) -> None:
        """Have all answers on file, those that somebody went back behind as well."""
        known = {**self.earlier, **self.given}
        for key, before in self.offered.items():  # asked about, and not said again
            if before is None:
                known.pop(key, None)
            else:
                known[key] = before
        lines = [
            f"{key}: {flow(known[key])}"
            for key, question in _BY_KEY.items()
            if key in known and not question.members
        ]
        if self.opened:
            lines.append(f"{_ONE_BY_ONE}: {' '.join(key for key in _BY_KEY if key in self.opened)}")
        if self.digests:
            lines.append(f"{_WRITTEN}: {flow(self.digests)}")
        outputs = Outputs(force=True)
        outputs.folder(self.folder)
        outputs.write(self.file, (_HEAD + "\n".join(lines) + "\n").encode("utf-8"))

    def default_all(self) -> None:
        """Answer what is left with its default. Raises BadInput where there is none.

        What is odd is told at the end; what cannot be is refused: nobody is there to be asked.
        """
        while (question := self.next()) is not WRITE:
            if self.wrong:
                raise BadInput(f"--answer {self.wrong}")
            if question.members:
                self.opened.add(question.key)
                continue
            default = self.default(question)
            if default is None:
                raise BadInput(
                    f"{question.key} has no default: {question.told_words(self.said)} Give it with "
                    f"--answer {question.key}=VALUE"
                )
            try:
                if self.give(question, default):  # odd: told at the end
                    self.give(question, default)
            except (ValueError, Refused) as error:
                raise BadInput(f"--answer {question.key}: {error}") from None
        if self.wrong:
            raise BadInput(f"--answer {self.wrong}")

    @property
    def left_out(self) -> list[str]:
        """The questions that nobody knew an answer to, by their keys."""
        return [key for key, text in self.said.texts.items() if text == NOT_KNOWN]

    @property
    def unused(self) -> list[str]:
        """Answers that were given and are not asked for here, with why."""
        return [
            f"{key}: {question.needless}"
            for key, question in _BY_KEY.items()
            if key in self.given and key not in self.said.texts and not question.members
        ]

    @property
    def odd(self) -> list[str]:
        """What is odd about answers, and was taken as it is, behind the keys of their questions."""
        found = []
        said = Said(skew_mm=self._skew_mm, given=self.given)
        for key, text in self.said.texts.items():
            question = _BY_KEY[key]
            after = self._with(said, question, text)
            if after[key] is not None:
                found += [f"{key}: {doubt}" for doubt in question.doubts(after[key], said)]
            said = after
        return found


class Unheard(Unclear):
    """An answer that says more than what was understood."""


def _whole_of(key: str) -> Question | None:
    """The question that asks this one with others in one."""
    return next((each for each in QUESTIONS if key in each.members), None)


def _of(member: Question, error: ValueError) -> ValueError:
    """An error about one of several answers, with what it is about in front."""
    told_so = f"{member.label or member.key}: {error}"
    if isinstance(error, Unclear):
        return Unclear(told_so, error.meant)
    return ValueError(told_so)


def _heard(question: Question, text: str, value: Any, said: Said) -> str:
    """An answer as it was read."""
    if value is None:
        return f"not known: {question.unknown}" if question.unknown else "not known"
    told_so = question.tells(value, said.with_answer(question.key, text, value))
    return told_so or (value if isinstance(value, str) else text)


def _must_be_possible(question: Question, value: Any, said: Said) -> None:
    """Raise ValueError for an answer that cannot be at a machine as it was described."""
    if value is not None and (cannot := question.cannot(value, said)):
        raise ValueError("; ".join(cannot))


def read_answer(question: Question, text: str, said: Said) -> tuple[str, Any]:
    """An answer as it is kept, and what was read from it; None where it is not known.

    Raises ValueError, Unclear.
    """
    if text == NOT_KNOWN and question.optional:
        return NOT_KNOWN, None
    part = text
    try:
        value = question.read(text, said)
    except ValueError as error:
        if is_not_known(text) and (unsure := question.unsure(said)) is not None:
            return unsure, question.read(unsure, said)
        if is_not_known(text) and question.optional:
            return NOT_KNOWN, None
        if is_not_known(text):
            raise ValueError(
                "this has to be known; ? tells more, quit keeps what was answered"
            ) from None
        if not isinstance(error, Wanted):
            raise
        found = in_part(question.read, text, said)
        if found is None:
            raise ValueError(error.with_example(question.example(said))) from None
        part, value = found, question.read(found, said)
    kept = _kept(question, value, part, said)
    if lost := _unheard(question, text, value, said):
        heard = _heard(question, part, value, said)
        meant = None if _unheard(question, kept, value, said) else kept
        offers = ", or Enter takes it without" if meant is not None else ""
        raise Unheard(f"{heard}; what of {_quoted(lost)}? Say it otherwise{offers}", meant)
    return kept if part is not text else text if not isinstance(value, str) else value, value


def _quoted(clauses: Iterable[str]) -> str:
    """Clauses of an answer, as a sentence tells them."""
    return " and ".join(f'"{each}"' for each in clauses)


def _unheard(question: Question, text: str, value: Any, said: Said) -> list[str]:
    """What of an answer is not in what was understood of it."""
    echo = (
        "" if value is None else question.tells(value, said.with_answer(question.key, text, value))
    )
    options = [each.word for each in question.listed(said)]
    heard = [value, options.index(value) + 1] if value in options else [value]
    named = f"{question.label} {value if isinstance(value, str) else ''} {echo}"
    return unheard(question.same(text, said), heard, named, question.hears, said)


def _kept(question: Question, value: Any, part: str, said: Said) -> str:
    """An answer as it is kept where words of it were left aside."""
    if isinstance(value, str):
        return value
    return _in_figures(question, value, said) or part


def _in_figures(question: Question, value: Any, said: Said) -> str:
    """Lengths as figures alone, where their question reads them so; else nothing."""
    listed = value if isinstance(value, list) else [value]
    if not all(isinstance(each, Amount) for each in listed):
        return ""
    figures = as_told(listed, said.unit)
    try:
        return figures if _lengths_mm(question.read(figures, said)) == _lengths_mm(value) else ""
    except ValueError:
        return ""


def _lengths_mm(value: Any) -> list[float]:
    """Lengths in mm, to what a float holds."""
    return [round(each.mm, 6) for each in (value if isinstance(value, list) else [value])]


def _told(error: Exception) -> str:
    """An error as one line about an answer."""
    if isinstance(error, DocumentErrors):
        return "; ".join(dict.fromkeys(each.text for each in error.problems))
    return str(error)


def answers_in(file: Path) -> tuple[dict[str, str], dict[str, str]]:
    """The answers of a file, and the digests of what was written. Raises BadInput."""
    tree = read_tree(text_of(file), str(file))
    root = tree.root
    if tree.problems:
        raise DocumentErrors(tree.problems)
    if root is None:
        return {}, {}
    if not isinstance(root, Mapping):
        raise BadInput(f"{file}: expected answers, a line each, such as units: mm")
    written = root.get(_WRITTEN)
    answers: dict[str, str] = {}
    for key, value in root.items():
        if key == _WRITTEN:
            continue
        if key == _ONE_BY_ONE:
            answers[key] = str(value)
            continue
        if key not in _BY_KEY:
            tree.problem((key,), f"there is no such question{suggestion(key, list(_BY_KEY))}")
        elif isinstance(value, list) and all(isinstance(each, str) for each in value):
            answers[key] = " x ".join(value)
        elif isinstance(value, str):
            answers[key] = " ".join(value.split())
        else:
            tree.problem((key,), "expected an answer in one line")
    if tree.problems:
        raise DocumentErrors(tree.problems)
    return answers, dict(written) if isinstance(written, Mapping) else {}


def open_walk(folder: Path, db: str | None, answers: Mapping[str, str]) -> Walk:
    """The walk of a shop folder, with the answers that are there; `answers` come before them.

    Raises BadInput where the folder's registry holds documents that no walk made.
    """
    file = folder / ANSWERS_FILE
    kept, digests = answers_in(file) if is_file(file) else ({}, {})
    location = db or str(folder / REGISTRY_FILE)
    dialects: Sequence[WholeDocument] = shipped_dialects()
    if "://" in location or is_file(Path(location)):
        session = open_session(location, "start")
        found = [(kind, name) for kind, name, _ in names(session, None, None) if kind != "dialect"]
        if found and not kept:
            kind, name = found[0]
            raise BadInput(
                f"the registry of {folder} holds documents already ({kind} {name}"
                f"{', ..' if len(found) > 1 else ''}), and start is for a new shop; add to it with "
                "pincorner example, edit, load and register"
            )
        with session.reading() as reader:
            dialects = Library(reader).all(Dialect)
    for key in answers:
        if key not in _BY_KEY and key != _ONE_BY_ONE:
            known = suggestion(key, list(_BY_KEY))
            raise BadInput(f"--answer {key}: there is no such question{known}")
    opened = set(kept.pop(_ONE_BY_ONE, "").split()) & _BY_KEY.keys()
    return Walk(folder, db, dialects, {**kept, **answers}, digests=digests, opened=opened)


class Begun(NamedTuple):
    """What the walk ended with: files, what a load did, the first station, its sheet, the map.

    `left`: files whose documents were changed in the registry since; they were not loaded again.
    """

    files: tuple[Path, ...]
    left: tuple[Path, ...]
    loaded: Loaded
    setup: Setup
    sheets: tuple[Path, ...]
    map: Path


def finish(walk: Walk, who: str | None) -> Begun:
    """Write the documents, load them, print the first sheet and the map: at the walk's end.

    What was done already is left as it is, so that a walk that was stopped here does the rest.
    What was changed in the registry since is never put back. Raises BadInput where a document was
    changed since it was written, in its file or, if the answers change it, in the registry.
    """
    texts = texts_of(walk.said)
    folder, outputs = walk.folder / DOCUMENTS, Outputs(force=True)
    files = {word: folder / f"{word}.yaml" for word in texts}
    location = walk.db or str(walk.folder / REGISTRY_FILE)
    is_there = "://" in location or is_file(Path(location))
    by_hand = set(_changed_by_hand(walk, files, texts, location if is_there else None))
    printed_before = bool(walk.digests)
    left = tuple(_changed_since(open_session(location, "start"), files, texts) if is_there else ())
    walk.digests = {word: _digest(text) for word, text in texts.items()}
    walk.keep()
    outputs.folder(folder)
    for word, file in files.items():
        if file not in by_hand:
            outputs.write(file, texts[word].encode("utf-8"))
    if not is_there:
        init_shop(walk.folder, walk.db, walk.said.unit, who)
    session = open_session(location, "start", who)
    fresh = [file for file in files.values() if file not in left and file not in by_hand]
    loaded = load(session, fresh, dry_run=False, is_sure=True)
    return _printed(walk, session, (tuple(fresh), left), loaded, printed_before)


def _changed_by_hand(
    walk: Walk, files: Mapping[str, Path], texts: Mapping[str, str], location: str | None
) -> Iterator[Path]:
    """Files that somebody changed and loaded since start wrote them: they stay as they are.

    Raises BadInput for one that was not loaded, or that the answers would change.
    """
    for word, file in files.items():
        wrote, now = walk.digests.get(word), _digest(texts[word])
        if not is_file(file) or _digest(text_of(file)) in (wrote, now):
            continue
        if location is not None and wrote == now and _is_loaded(file, location):
            yield file
            continue
        raise BadInput(
            f"{file} was changed since start wrote it, and is left as it is; load it with "
            f"pincorner load {file}, or move it away to have it written anew"
        )


def _is_loaded(file: Path, location: str) -> bool:
    """Whether the registry says what a file does."""
    with open_session(location, "start").registry.reading() as reader:
        stated = [entry.document for entry in read_texts([(str(file), text_of(file))]).entries]
        found = [reader.find(type(each), each.name) for each in stated]
    return all(
        now is not None and _is_as_stated(now, each)
        for now, each in zip(found, stated, strict=True)
    )


def _changed_since(
    session: Session, files: Mapping[str, Path], texts: Mapping[str, str]
) -> Iterator[Path]:
    """Files whose documents were changed in the registry since start wrote them.

    Raises BadInput where the answers would change such a document.
    """
    for word, file in files.items():
        if not is_file(file):
            continue
        text = text_of(file)
        for entry in read_texts([(str(file), text)]).entries:
            with session.reading() as reader:
                now = reader.find(type(entry.document), entry.document.name)
            if now is None or _is_as_stated(now, entry.document):
                continue
            if text != texts[word]:
                raise BadInput(
                    f"{word} {now.name} was changed in the registry since start wrote {file}, and "
                    f"is left as it is; change it with pincorner edit {word} {quoted(now.name)}"
                )
            yield file


def _is_as_stated(now: WholeDocument, stated: WholeDocument) -> bool:
    """Whether a document of the registry says what is stated, pins that were chosen aside."""
    values, wanted = plain_values(now), plain_values(stated)
    if isinstance(now, Station) and isinstance(now.pins, EdgePins) and now.pins.chosen:
        wanted.setdefault("pins", values["pins"])
    return values == wanted


def _printed(
    walk: Walk,
    session: Session,
    files: tuple[tuple[Path, ...], tuple[Path, ...]],
    loaded: Loaded,
    again: bool,
) -> Begun:
    """The first sheet and the map of the bed."""
    said = walk.said
    with session.reading() as reader:
        library = Library(reader)
        setup = make_setups(library.facts(library.get(Station, said["station"])))[0]
    sheets = write_sheets(
        session, [said["station"]], walk.folder / "sheets", paper_of(said), False, again,
        lambda done, all_: None,
    )  # fmt: skip
    map_file = walk.folder / f"{file_stem(said['bed'])}-map.html"
    write_map(session, said["bed"], map_file, again)
    return Begun(*files, loaded, setup, tuple(sheets), map_file)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
