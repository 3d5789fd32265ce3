"""The walk over the questions: one loop's state, its answers kept in a file, and what it ends with.

What was answered is on file before the next question is asked; a walk that was stopped, however it
was, goes on there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
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
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.units import told
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import REGISTRY_FILE, is_file
from pincorner.work.first.drafting import (
    NOTHING_YET,
    Draft,
    SampleBlock,
    draft,
    filled,
    sample_blocks,
    skew_of,
    texts_of,
)
from pincorner.work.first.plain import NOT_KNOWN, Unclear, Wanted, is_not_known
from pincorner.work.first.questions import QUESTIONS, WRITE, Question
from pincorner.work.first.reckoned import far_hole, piece_from_zero, turn_of
from pincorner.work.first.typed import Said
from pincorner.work.loading import Loaded, load, shipped_dialects
from pincorner.work.papers import file_stem, write_map, write_sheets
from pincorner.work.reports import names
from pincorner.work.session import Library, Session, open_session
from pincorner.work.shops import init_shop

ANSWERS_FILE = "start-answers.yaml"
DOCUMENTS = Path("documents")
_BY_KEY = {question.key: question for question in QUESTIONS}
_WRITTEN = "written"

_HEAD = """\
# What was answered in pincorner start, which goes on from here. It takes such files too:
# pincorner start FOLDER --answers FILE
"""


@dataclass
class Walk:
    """Answers as far as they are given, and those that somebody went back behind.

    `digests`: of the documents that were written, by their kind. `sure`: odd answers that were
    told about once. `offered`: the questions whose default is an answer that was asked about,
    until another one is tried; each with the default of before.
    """

    folder: Path
    db: str | None
    dialects: Sequence[WholeDocument]
    given: dict[str, str] = field(default_factory=dict)
    earlier: dict[str, str] = field(default_factory=dict)
    digests: dict[str, str] = field(default_factory=dict)
    sure: set[tuple[str, str]] = field(default_factory=set)
    offered: dict[str, str | None] = field(default_factory=dict)
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
        self.said, self.wrong = Said(skew_mm=self._skew_mm), ""
        last = WRITE
        for question in QUESTIONS:
            if not question.asked(self.said):
                continue
            if question.key not in self.given:
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

    def _first_wrong(self) -> Question:
        """The question whose answer the documents cannot be made with."""
        said = Said(skew_mm=self._skew_mm)
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
        said = Said(skew_mm=self._skew_mm)
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

    def words(self, question: Question) -> str:
        """A question's words, with the hole that it asks for or the figure that it is about."""
        words, setup, said = question.told_words(self.said.unit), self.drafted.setup, self.said
        if "{far}" in words:
            words = words.replace("{far}", far_hole(said)[0])
        if "{skew}" in words and setup is not None:
            words = words.replace("{skew}", told(setup.skew_mm, said.unit, 2))
        its = "the jig's own" if said["holder"] == "jig" else "as it lies,"
        words = words.replace("{turn}", str(turn_of(said))).replace("{its}", its)
        if "{lies}" in words:
            words = words.replace("{lies}", piece_from_zero(said, turn_of(said)))
            words = words.replace("{unturned}", piece_from_zero(said, 0))
        return words

    def blocks(self) -> list[SampleBlock]:
        """What the block of each shipped dialect would look like."""
        return sample_blocks(self.said, self.dialects)

    def default(self, question: Question) -> str | None:
        """What Enter answers: what was said before somebody went back, else the default."""
        return self.earlier.get(question.key) or question.default(self.said)

    def give(self, question: Question, text: str) -> list[str]:
        """Take an answer, and keep it; or doubts about one that is odd, the first time.

        Raises ValueError, Refused for an answer that cannot be; Unclear for one that may mean more
        than one thing, with what Enter takes from then on.
        """
        text = " ".join(text.split())
        if text != self.earlier.get(question.key):
            self._take_back(question.key)
        try:
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
        self.keep()
        return []

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

    def understood(self, question: Question, text: str) -> str:
        """An answer as it was read; nothing where that is as it was typed. Raises ValueError."""
        read, value = read_answer(question, text, self.said)
        if value is None:
            return "not known"
        told_so = question.tells(value, self.said) or read
        return "" if told_so == " ".join(text.split()) else told_so

    def back(self, to: str | None = None) -> bool:
        """Go back to the question before, or to one by its key; whether there is one."""
        answered = [question.key for question in QUESTIONS if question.key in self.said.texts]
        if not answered or (to is not None and to not in answered):
            return False
        for key in list(self.offered):
            self._take_back(key)
        while answered:
            key = answered.pop()
            self.earlier[key] = self.given.pop(key)
            if to in (None, key):
                break
        return True

    def keep(self) -> None:
        """Have all answers on file, those that somebody went back behind as well."""
        known = {**self.earlier, **self.given}
        for key, before in self.offered.items():  # asked about, and not said again
            if before is None:
                known.pop(key, None)
            else:
                known[key] = before
        lines = [f"{key}: {flow(known[key])}" for key in _BY_KEY if key in known]
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
            default = self.default(question)
            if self.wrong:
                raise BadInput(f"--answer {self.wrong}")
            if default is None:
                raise BadInput(
                    f"{question.key} has no default: {self.words(question)} Give it with "
                    f"--answer {question.key}=VALUE"
                )
            try:
                if self.give(question, default):  # odd: told at the end
                    self.give(question, default)
            except (ValueError, Refused) as error:
                raise BadInput(f"--answer {question.key}: {error}") from None

    @property
    def left_out(self) -> list[str]:
        """The questions that nobody knew an answer to, by their keys."""
        return [key for key, text in self.said.texts.items() if text == NOT_KNOWN]

    @property
    def odd(self) -> list[str]:
        """What is odd about answers, and was taken as it is, behind the keys of their questions."""
        found = []
        said = Said(skew_mm=self._skew_mm)
        for key, text in self.said.texts.items():
            question = _BY_KEY[key]
            after = self._with(said, question, text)
            if after[key] is not None:
                found += [f"{key}: {doubt}" for doubt in question.doubts(after[key], said)]
            said = after
        return found

    @property
    def place(self) -> tuple[int, int]:
        """Which question this is, and how many there are as far as that is known."""
        return len(self.said.texts) + 1, len(filled(self.said).texts)


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
        if isinstance(error, Wanted):
            raise ValueError(error.with_example(question.example(said))) from None
        raise
    return value if isinstance(value, str) else text, value


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
        if key not in _BY_KEY:
            known = suggestion(key, list(_BY_KEY))
            raise BadInput(f"--answer {key}: there is no such question{known}")
    return Walk(folder, db, dialects, {**kept, **answers}, digests=digests)


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
    for word, file in files.items():
        if is_file(file) and _digest(text_of(file)) not in (
            walk.digests.get(word),
            _digest(texts[word]),
        ):
            raise BadInput(
                f"{file} was changed since start wrote it, and is left as it is; load it with "
                f"pincorner load {file}, or move it away to have it written anew"
            )
    printed_before = bool(walk.digests)
    location = walk.db or str(walk.folder / REGISTRY_FILE)
    is_there = "://" in location or is_file(Path(location))
    left = tuple(_changed_since(open_session(location, "start"), files, texts) if is_there else ())
    walk.digests = {word: _digest(text) for word, text in texts.items()}
    walk.keep()
    outputs.folder(folder)
    for word, file in files.items():
        outputs.write(file, texts[word].encode("utf-8"))
    if not is_there:
        init_shop(walk.folder, walk.db, walk.said.unit, who)
    session = open_session(location, "start", who)
    fresh = [file for file in files.values() if file not in left]
    loaded = load(session, fresh, dry_run=False, is_sure=True)
    return _printed(walk, session, (tuple(fresh), left), loaded, printed_before)


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


def quoted(name: str) -> str:
    """A name as a command line takes it."""
    return f'"{name}"' if " " in name else name


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
        session, [said["station"]], walk.folder / "sheets", said["paper"], False, again,
        lambda done, all_: None,
    )  # fmt: skip
    map_file = walk.folder / f"{file_stem(said['bed'])}-map.html"
    write_map(session, said["bed"], map_file, again)
    return Begun(*files, loaded, setup, tuple(sheets), map_file)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
