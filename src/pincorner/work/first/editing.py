"""`edit`: one document in the editor of whoever is there, loaded when it is saved.

All or nothing: what is wrong stands beside its line, the text is kept, and the editor comes again
for as long as something is changed.
"""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

from pincorner import staging
from pincorner.documents.described import example_values
from pincorner.documents.fields import WholeDocument, key_of
from pincorner.documents.kinds import KINDS, identity
from pincorner.documents.reading import read_text, text_of
from pincorner.documents.writing import values_in
from pincorner.errors import BadInput, DocumentErrors, PincornerError
from pincorner.render.text.commented import commented
from pincorner.units import Unit
from pincorner.work.files.outputs import IS_WINDOWS, Outputs
from pincorner.work.files.whereabouts import is_file
from pincorner.work.first.walk import DOCUMENTS
from pincorner.work.loading import Loaded, load, says_the_same
from pincorner.work.papers import file_stem
from pincorner.work.session import Library, Session

Editor = Callable[[Path], None]
"""Has a file edited, and comes back when that is done. Raises BadInput."""

_MARK = "#! "
_MARKED = re.compile(r"^[ \t]*#! .*(?:\n|\Z)", re.MULTILINE)


def editor_of_theirs(at_a_terminal: bool) -> Editor:
    """VISUAL, else EDITOR, else what the system has. Raises BadInput where there is none."""
    stated = os.environ.get("VISUAL") or os.environ.get("EDITOR")
    if stated:
        words = [stated] if Path(stated).is_file() else shlex.split(stated, posix=not IS_WINDOWS)
    elif not at_a_terminal:
        raise BadInput("there is no terminal to edit at; set EDITOR, or load a file instead")
    elif IS_WINDOWS:
        words = ["notepad"]
    else:
        words = [next(filter(shutil.which, ("editor", "vi")), "vi")]

    def edit(file: Path) -> None:
        try:
            done = subprocess.run([word.strip('"') for word in words] + [str(file)], check=False)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or error
            raise BadInput(f"the editor {words[0]} cannot be run: {reason}; set EDITOR") from None
        if done.returncode:
            raise BadInput(f"the editor {words[0]} ended with {done.returncode}; nothing is loaded")

    return edit


class Edited(NamedTuple):
    """What an edit came to: what the load did, None where nothing was changed.

    `file`: a file of the shop's documents that holds the text now; None where there is none.
    `before`: the name that the document had, where it was given another one. `otherwise`: a file of
    the shop's documents that says something else of it.
    """

    loaded: Loaded | None
    file: Path | None = None
    before: str | None = None
    otherwise: Path | None = None


def edit(session: Session, word: str, name: str, editor: Editor) -> Edited:
    """Have a document edited, and load it. Raises UnknownName, BadInput with the text kept."""
    found, unit = _now(session, word, name)
    own = session.shop / DOCUMENTS / f"{word}.yaml"
    its_own = _holds(own, found)
    text = text_of(own) if its_own else _text(found, word, unit)
    file = session.shop / f"edit-{word}-{file_stem(found.name)}.yaml"
    outputs = Outputs(force=True)
    outputs.write(file, text.encode("utf-8"))
    shown, error = text, None
    while True:
        editor(file)
        typed = text_of(file)
        if typed == shown:
            break
        text = _MARKED.sub("", typed)
        outputs.write(file, text.encode("utf-8"))
        error = _try_to_load(session, file, found, word)
        if not isinstance(error, PincornerError):
            if its_own:
                outputs.write(own, text.encode("utf-8"))
            staging.discard(file)
            renamed = _names_another(text, found)
            otherwise = None if its_own or not _names(own, found) else own
            return Edited(
                error, own if its_own else None, found.name if renamed else None, otherwise
            )
        shown = _with_marks(text, error)
        outputs.write(file, shown.encode("utf-8"))
    if error is None:
        staging.discard(file)
        return Edited(None)
    raise BadInput(
        f"{error}\nnothing is loaded; the text is kept in {file}: mend it, then pincorner load it"
    )


def _now(session: Session, word: str, name: str) -> tuple[WholeDocument, Unit]:
    """A document as it is on file, and the shop's unit. Raises UnknownName."""
    with session.reading() as reader:
        return Library(reader).get(KINDS[word].model, name), reader.display_units


def _text(found: WholeDocument, word: str, unit: Unit) -> str:
    about = (
        f"The {word} {found.name} as it is on file. It is loaded when this is saved and the "
        "editor closed; close it without a change, and nothing is."
    )
    return commented(word, values_in(found, unit), unit, example_values(word, unit), about)


def _holds(file: Path, found: WholeDocument) -> bool:
    """Whether a file of the shop's documents holds this one alone, as it is on file; pins that were
    chosen for it need not stand there."""
    held = _documents_in(file)
    return len(held) == 1 and says_the_same(held[0], found)


def _names(file: Path, found: WholeDocument) -> bool:
    """Whether a file of the shop's documents has a document of this kind and name."""
    return identity(found) in [identity(document) for document in _documents_in(file)]


def _documents_in(file: Path) -> list[WholeDocument]:
    """The documents of a file; none where there is no such file, or it does not read."""
    if not is_file(file):
        return []
    tree, entries = read_text(text_of(file), str(file))
    return [] if tree.problems else [entry.document for entry in entries]


def _names_another(text: str, found: WholeDocument) -> bool:
    _, entries = read_text(text, "")
    return identity(found) not in [identity(entry.document) for entry in entries]


def _try_to_load(
    session: Session, file: Path, before: WholeDocument, word: str
) -> Loaded | PincornerError:
    """Load a file; or what speaks against it."""
    try:
        now, _ = _now(session, word, before.name)
        if now != before:
            raise BadInput(f"{word} {key_of(now.name)} was changed by somebody else meanwhile")
        return load(session, [file], dry_run=False, is_sure=True)
    except PincornerError as error:
        return error


def _with_marks(text: str, error: PincornerError) -> str:
    """A text with what is wrong below each line, where it is known."""
    lines = text.splitlines()
    problems = error.problems if isinstance(error, DocumentErrors) else ()
    told = [(each.line or 0, f"{each.path}: {each.text}".strip(": ")) for each in problems]
    for line, what in sorted(told or [(0, str(error))], key=lambda each: -each[0]):
        above = lines[line - 1] if line else ""
        indent = above[: len(above) - len(above.lstrip())]
        lines.insert(line, indent + _MARK + " ".join(what.split()))
    return "\n".join(lines) + "\n"
