"""The walk over the questions: one loop's state, its answers kept in a file, and what it ends with.

What was answered is on file before the next question is asked; a walk that was stopped, however it
was, goes on there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from pincorner.characters import quoted
from pincorner.documents.fields import WholeDocument
from pincorner.documents.machines import Dialect
from pincorner.documents.reading import read_texts, text_of
from pincorner.documents.stations import EdgePins, Station
from pincorner.documents.writing import flow, plain_values
from pincorner.documents.yaml_tree import read_tree
from pincorner.errors import BadInput, DocumentErrors, Refused, suggestion
from pincorner.registry.locations import is_url
from pincorner.setups.setup import Setup
from pincorner.setups.transform import make_setups
from pincorner.work.files.outputs import Outputs
from pincorner.work.files.whereabouts import REGISTRY_FILE, is_file
from pincorner.work.first.asked.question import Question
from pincorner.work.first.asked.typed import (
    NOT_KNOWN,
    Asks,
    Laid,
    NotClear,
    Read,
    Said,
    words_of,
)
from pincorner.work.first.drafting import (
    NOTHING_YET,
    Draft,
    SampleBlock,
    codes_behind,
    draft,
    laid,
    left_to_ask,
    name_of,
    sample_blocks,
    texts_of,
)
from pincorner.work.first.questions import QUESTIONS, WRITE, paper_of
from pincorner.work.loading import Loaded, load, shipped_dialects, void_now
from pincorner.work.papers import file_stem, write_map, write_sheets
from pincorner.work.reports import names
from pincorner.work.session import Library, Session, open_session
from pincorner.work.shops import init_shop
from pincorner.work.stale import papers_in_use

ANSWERS_FILE = "start-answers.yaml"
DOCUMENTS = Path("documents")
_BY_KEY = {question.key: question for question in QUESTIONS}
_WRITTEN, _AGAIN = "written", "asked-again"
_SEEN_FROM = ("units", "homes", "operator", "holder", "turn", "corner")
"""Answers from which later ones have their meaning: `far`, `left and away`, a bare number."""
_HEAD = """\
# What was answered in pincorner start, which goes on from here. It takes such files too:
# pincorner start FOLDER --answers FILE
"""


class Judged(NamedTuple):
    """What is wrong about answers, by their keys; what has to be said and is not; the keys of
    those that hang on these."""

    wrong: dict[str, str]
    missing: list[str]
    later: list[str]

    @property
    def lines(self) -> list[str]:
        """All of it, for whoever gave the answers."""
        found = [f"--answer {key}: {text}" for key, text in self.wrong.items()] + self.missing
        if self.later:
            found.append(f"not looked at before that is mended: {', '.join(self.later)}")
        return found


@dataclass
class Walk:
    """Answers as far as they are given, and those that somebody went back behind.

    today: the keys of answers in the order in which they were given since the walk was opened.
    digests: of the documents that were written, by their kind. printed: papers on record that are
    there, by their paths. offer: the question that was asked
    about, with the answer that Enter takes. heard: how the last answer was understood. said,
    asked, drafted, wrong: what the answers come to, and which of them are asked for, since `next`.
    """

    folder: Path
    db: str | None
    dialects: Sequence[WholeDocument]
    given: dict[str, str] = field(default_factory=dict)
    earlier: dict[str, str] = field(default_factory=dict)
    today: list[str] = field(default_factory=list)
    digests: dict[str, str] = field(default_factory=dict)
    printed: tuple[str, ...] = ()
    offer: tuple[str, str] | None = None
    heard: str = ""
    said: Said = field(default_factory=Said)
    asked: tuple[str, ...] = ()
    drafted: Draft = NOTHING_YET
    wrong: str = ""
    _made: dict[tuple[tuple[str, str], ...], Draft] = field(default_factory=dict)

    @property
    def file(self) -> Path:
        """Where the answers are kept."""
        return self.folder / ANSWERS_FILE

    def next(self) -> Question:
        """The first question that is not answered well; `WRITE` at the end.

        Reads all answers anew: those of questions that are not asked any more stay, unread.
        """
        self.said, self.asked, self.wrong = self._nothing(), (), ""
        last = WRITE
        for question in QUESTIONS:
            is_said = question.key in self.given
            if not question.asked(self.said):
                continue
            if not question.waits(self.said):
                self.asked += (question.key,)
            elif not is_said:
                continue
            if not is_said:
                last = question
                break
            try:
                self.said = self._with(self.said, question, self.given[question.key])
            except ValueError as error:
                return self._again(question, error)
        try:
            self.drafted = self._draft(self.said)
        except (BadInput, Refused):
            return self._first_wrong()
        return last

    def _nothing(self) -> Said:
        """Nothing said yet."""
        return Said(
            laid=self._laid,
            codes=lambda said: codes_behind(said, self.dialects),
            left=lambda extent: left_to_ask(extent, self.given),
        )

    def _first_wrong(self) -> Question:
        """The question whose answer the documents cannot be made with."""
        texts, said = self.said.texts, self._nothing()
        for key, text in texts.items():
            before, said = said, self._with(said, _BY_KEY[key], text)
            try:
                self._draft(said)
            except (BadInput, Refused) as error:
                self.said = before
                return self._again(_BY_KEY[key], error)
        raise AssertionError("answers that draft one by one draft together")

    def _again(self, question: Question, error: Exception) -> Question:
        """Have a question asked once more; before it one whose answer cannot be."""
        try:
            self.drafted = self._draft(self.said)
        except (BadInput, Refused):
            return self._first_wrong()
        self.earlier[question.key] = self.given.pop(question.key)
        self.wrong = f"{question.key}: {_told(error)}"
        return question

    @staticmethod
    def _with(said: Said, question: Question, text: str) -> Said:
        """What is said after one more answer, which stands in a file. Raises ValueError."""
        found = question.answer(text, said)
        if found.rest:
            question.must_be_sure(found, said)
        return said.with_answer(question.key, found.kept, found.value)

    def _draft(self, said: Said) -> Draft:
        """The draft of answers, made once. Raises DocumentErrors, Refused."""
        answers = tuple(said.texts.items())
        if answers not in self._made:
            self._made[answers] = draft(said, self.dialects)
        return self._made[answers]

    def _laid(self, said: Said) -> Laid:
        try:
            return laid(self._draft(said), said)
        except (BadInput, Refused):
            return Laid()

    @property
    def picture(self) -> str:
        """The bed in characters, as all answers have it, those behind the next question too, which
        counts as it was answered before, up to one that others cannot be read without."""
        said, before = self.said, self.earlier
        try:
            for question in QUESTIONS:
                if question.key in said.texts or not question.asked(said):
                    continue
                text = self.given.get(question.key)
                if text is None:
                    text, before = before.get(question.key), {}
                if text is not None:
                    said = self._with(said, question, text)
                elif not question.may_be_open:
                    break
            return self._draft(said).picture
        except (ValueError, BadInput, Refused):
            return self.drafted.picture

    def blocks(self) -> list[SampleBlock]:
        """What the block of each shipped dialect would look like."""
        return sample_blocks(self.said, self.dialects)

    def default(self, question: Question, said: Said | None = None) -> str | None:
        """What Enter answers: what was asked about, what was said before somebody went back, else
        the default; `said`: other answers than those until now."""
        if self.offer is not None and self.offer[0] == question.key:
            return self.offer[1]
        return self.earlier.get(question.key) or question.default(said or self.said)

    def give(self, question: Question, text: str) -> None:
        """Take an answer, and keep it.

        Raises Asks for one that is odd or was read in part, which Enter takes then; ValueError,
        Refused for one that cannot be.
        """
        text, self.heard, asked_about = " ".join(text.split()), "", self.offer
        self.offer = None
        is_agreed = words_of(text) in (["yes"], ["y"], ["ok"]) and not question.listed(self.said)
        if is_agreed and asked_about is not None and asked_about[0] == question.key:
            text = asked_about[1]
        try:
            found = question.answer(text, self.said)
            if asked_about != (question.key, found.kept) or found.rest:
                question.must_be_sure(found, self.said)
        except Asks as asks:
            self.offer = (question.key, asks.offers)
            raise
        self._keep(question, text, found)
        self.keep()

    def _keep(self, question: Question, text: str, found: Read) -> None:
        """Take an answer that the documents can be made with; `keep` has it on file. Raises
        ValueError, Refused."""
        after = self.said.with_answer(question.key, found.kept, found.value)
        try:
            self._draft(after)
        except DocumentErrors as error:
            raise ValueError(_told(error)) from None
        heard = question.heard(found, self.said)
        self.heard = "" if heard == text else heard
        self.offer = None
        before = self.earlier.pop(question.key, self.given.get(question.key))
        if question.key in _SEEN_FROM and before not in (None, found.kept):
            self._ask_again_behind(question.key)
        self.given[question.key] = found.kept
        self.today = [key for key in self.today if key != question.key] + [question.key]

    def _ask_again_behind(self, key: str) -> None:
        """Have all that was answered behind a question asked again, with that as the default; not
        what came from an option or a file and is never asked."""
        keys = list(_BY_KEY)
        for later in keys[keys.index(key) + 1 :]:
            if later in self.given and not _BY_KEY[later].waits(self.said):
                self.earlier[later] = self.given.pop(later)

    def back(self, to: str | None = None) -> bool:
        """Go back to the question that was answered before, or to one by its key; whether there is
        one. What was answered behind it is asked again, with that as the default."""
        self.next()
        answered = [key for key in self.asked if key in self.said.texts]
        today = [key for key in self.today if key in answered]
        since = today if today and to in (None, *today) else answered
        if not since or (to is not None and to not in since):
            return False
        self.offer = None
        for key in since[since.index(to) if to else -1 :]:
            self.earlier[key] = self.given.pop(key)
        return True

    def go_on(self) -> None:
        """Have what was left for later asked for: where a sheet was made, and short is not said
        again."""
        if self.digests and self.given.get("extent") == "short":
            del self.given["extent"]
            self.earlier["extent"] = "all"

    def keep(self) -> None:
        """Have all answers on file, those that somebody went back behind as well."""
        known = {**self.earlier, **self.given}
        lines = [f"{key}: {flow(known[key])}" for key in _BY_KEY if key in known]
        if again := [key for key in _BY_KEY if key in self.earlier and key not in self.given]:
            lines.append(f"{_AGAIN}: {flow(again)}")
        if self.digests:
            lines.append(f"{_WRITTEN}: {flow(self.digests)}")
        outputs = Outputs(force=True)
        outputs.folder(self.folder)
        outputs.write(self.file, (_HEAD + "\n".join(lines) + "\n").encode("utf-8"))

    def default_all(self) -> None:
        """Answer what is left with its default, and write nothing. Raises BadInput with all that is
        wrong, else, where there is no default, with every answer that has to be given.

        What is odd is told at the end; what cannot be is refused: nobody is there to be asked.
        """
        if (judged := self.judged()).wrong:
            raise BadInput("\n".join(judged.lines))
        while (question := self.next()) is not WRITE:
            if self.wrong:
                raise BadInput(f"--answer {self.wrong}")
            default = self.default(question)
            if default is None:
                raise BadInput("\n".join(self._without_default()))
            try:
                self._keep(question, default, question.answer(default, self.said))
            except (ValueError, Refused) as error:
                raise BadInput(f"--answer {question.key}: {error}") from None
        if self.wrong:
            raise BadInput(f"--answer {self.wrong}")

    def judged(self) -> Judged:
        """What is wrong about each answer that is given; what hangs on a wrong one is not looked
        at."""
        said, found = self._nothing(), Judged({}, [], [])
        for question in QUESTIONS:
            key = question.key
            try:
                if not question.asked(said):
                    continue
                text = self.given.get(key)
                if text is None and question.waits(said):
                    continue
                if text is None and (text := self.default(question, said)) is None:
                    found.missing.append(_has_no_default(question, said))
                    said = said.without(key)
                else:
                    said = self._with(said, question, text)
            except NotClear:
                found.later.extend([key] if key in self.given else [])
                said = said.without(key)
            except ValueError as error:
                found.wrong[key] = str(error)
                said = said.without(key)
        return found

    @property
    def asked_anew(self) -> list[str]:
        """What answers that are given and cannot be taken are about."""
        return [_BY_KEY[key].about for key in self.judged().wrong if key in self.given]

    def _without_default(self) -> list[str]:
        """What has to be said of each question that is left and has no default: others are found
        with examples in their place, of which nothing is kept."""
        rest, found = replace(self, given=dict(self.given), earlier=dict(self.earlier)), []
        while (question := rest.next()) is not WRITE and not rest.wrong:
            default = rest.default(question)
            if default is None:
                found.append(_has_no_default(question, rest.said))
            rest.given[question.key] = default or question.example(rest.said)
        return found

    @property
    def left_out(self) -> list[str]:
        """What nobody knew an answer to, in words of the trade."""
        return [_BY_KEY[key].about for key, text in self.said.texts.items() if text == NOT_KNOWN]

    @property
    def unused(self) -> list[str]:
        """Answers that were given and are not asked for here."""
        return [
            f"{key}: it is not asked here"
            for key in _BY_KEY
            if key in self.given and key not in self.said.texts
        ]

    @property
    def odd(self) -> list[str]:
        """What is odd about answers, and was taken as it is, behind what it is about."""
        found = []
        said = self._nothing()
        for key, text in self.said.texts.items():
            question = _BY_KEY[key]
            after = self._with(said, question, text)
            if after[key] is not None:
                found += [
                    f"{question.about}: {doubt}" for doubt in question.doubts(after[key], said)
                ]
            said = after
        return found


def _has_no_default(question: Question, said: Said) -> str:
    key = question.key
    words = question.told_words(said)
    return f"{key} has no default: {words} Give it with --answer {key}=VALUE"


def _told(error: Exception) -> str:
    """An error as one line about an answer."""
    if isinstance(error, DocumentErrors):
        return "; ".join(dict.fromkeys(each.text for each in error.problems))
    return str(error)


class Kept(NamedTuple):
    """What a file of answers holds: answers, digests of documents that were written, and the keys
    of answers that somebody went back behind."""

    answers: dict[str, str]
    digests: dict[str, str]
    again: frozenset[str] = frozenset()


def answers_in(file: Path) -> Kept:
    """What a file of answers holds. Raises BadInput."""
    tree = read_tree(text_of(file), str(file))
    root = tree.root
    if tree.problems:
        raise DocumentErrors(tree.problems)
    if root is None:
        return Kept({}, {})
    if not isinstance(root, Mapping):
        raise BadInput(f"{file}: expected answers, a line each, such as units: mm")
    written, again = root.get(_WRITTEN), root.get(_AGAIN)
    answers: dict[str, str] = {}
    for key, value in root.items():
        if key in (_WRITTEN, _AGAIN):
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
    return Kept(
        answers,
        dict(written) if isinstance(written, Mapping) else {},
        frozenset(again) if isinstance(again, list) else frozenset(),
    )


def open_walk(folder: Path, db: str | None, answers: Mapping[str, str]) -> Walk:
    """The walk of a shop folder, with the answers that are there; `answers` come before them.

    Raises BadInput where the folder's registry holds documents that no walk made.
    """
    file = folder / ANSWERS_FILE
    kept, digests, again = answers_in(file) if is_file(file) else Kept({}, {})
    location = db or str(folder / REGISTRY_FILE)
    dialects: Sequence[WholeDocument] = shipped_dialects()
    printed: tuple[str, ...] = ()
    if is_url(location) or is_file(Path(location)):
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
            printed = tuple(dict.fromkeys(
                paper["path"] for paper in papers_in_use(session, reader)
            ))  # fmt: skip
    strange = [
        f"--answer {key}: there is no such question{suggestion(key, list(_BY_KEY))}"
        for key in answers
        if key not in _BY_KEY
    ]
    if strange:
        raise BadInput("\n".join(strange))
    earlier = {key: text for key, text in kept.items() if key in again and key not in answers}
    given = {key: text for key, text in {**kept, **answers}.items() if key not in earlier}
    return Walk(folder, db, dialects, given, earlier, digests=digests, printed=printed)


class Begun(NamedTuple):
    """What the walk ended with: files, what a load did, the first station's setups, one for each
    piece, its sheet, the map.

    `left`: files whose documents were changed in the registry since; they were not loaded again.
    `void`: papers that are not good any more, but for those that were printed anew. `again`:
    whether a sheet was there before.
    """

    files: tuple[Path, ...]
    left: tuple[Path, ...]
    loaded: Loaded
    setups: Sequence[Setup]
    sheets: tuple[Path, ...]
    map: Path
    void: tuple[str, ...]
    again: bool


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
    is_there = is_url(location) or is_file(Path(location))
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
    loaded = load(session, fresh, dry_run=False, is_sure=True, tells_void=False)
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
        setups = make_setups(library.facts(library.get(Station, name_of("station", said))))
    sheets = write_sheets(
        session, [name_of("station", said)], walk.folder / "sheets", paper_of(said), False, again,
        lambda done, all_: None,
    )  # fmt: skip
    bed = name_of("bed", said)
    map_file = walk.folder / f"{file_stem(bed)}-map.html"
    write_map(session, bed, map_file, again)
    with session.registry.reading_aside() as reader:
        void = tuple(void_now(session, reader, loaded.summary))
    return Begun(*files, loaded, setups, tuple(sheets), map_file, void, again)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
