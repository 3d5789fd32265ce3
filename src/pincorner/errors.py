"""Everything that can go wrong and be told to a person.

    PincornerError            exit code 2
    ├── BadInput              an option, a file or a value is wrong
    │   ├── DocumentErrors    all problems found in the documents of one command
    │   ├── UnknownName       a name that the registry does not hold
    │   ├── FileExists        an output would replace a file
    │   └── NotPrinted        a page is written, and no browser makes a PDF of it
    ├── Refused               a station cannot be located, or a block must not be written
    └── RegistryError         the registry cannot be used; exit code 3
        ├── RegistryMissing   there is none at that place
        ├── RegistryForeign   the database is something else
        ├── RegistryDamaged   it is ours, and what it holds is not as it was written
        ├── RegistryOlder     made by an earlier pincorner
        ├── RegistryNewer     made by a later pincorner
        └── RegistryBusy      somebody else is writing

Each carries its values as attributes; `str(error)` is one clear line (DocumentErrors: one per
problem) that says what is wrong, where, and what to do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path


class PincornerError(Exception):
    """Base of all errors that are reported as a line of text; never a traceback."""

    exit_code = 2


class BadInput(PincornerError):
    """An option, a file or a value is wrong."""


class NotPrinted(BadInput):
    """A page that is written could not be printed to PDF; `pages`: the files of all that are."""

    def __init__(self, text: str, pages: Sequence[Path] = ()) -> None:
        super().__init__(text)
        self.pages = tuple(pages)


class Problem(NamedTuple):
    """One thing wrong in a document: `file:line: key path: text`."""

    file: str
    line: int | None
    path: str
    text: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return ": ".join(part for part in (place, self.path, self.text) if part)


class DocumentErrors(BadInput):
    """All problems found in the documents of one command; nothing of them was written.

    The text lists the first ones and says how many follow.
    """

    LISTED = 50

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines = [str(problem) for problem in self.problems[: self.LISTED]]
        more = len(self.problems) - len(lines)
        if more > 0:
            lines.append(f"and {more} more; mend these first")
        super().__init__("\n".join(lines))


class UnknownName(BadInput):
    """A name that the registry does not hold (or no longer uses)."""

    def __init__(self, kind: str, name: str, known: Sequence[str] = ()) -> None:
        self.kind, self.name, self.known = kind, name, tuple(known)
        super().__init__(unknown(kind, name, self.known))


class FileExists(BadInput):
    """An output would replace a file that is there."""

    def __init__(self, path: object) -> None:
        self.path = path
        super().__init__(f"{path} exists; choose another name, or say --force to replace it")


class Refused(PincornerError):
    """A station cannot be located as registered, or its block must not be written.

    `cause` is a short code for tests and scripts, `text` the sentence with the figure.
    """

    def __init__(self, cause: str, text: str) -> None:
        self.cause, self.text = cause, text
        super().__init__(text)


class RegistryError(PincornerError):
    """The registry cannot be opened or written."""

    exit_code = 3


class RegistryMissing(RegistryError):
    """There is no registry where it was looked for."""


class RegistryForeign(RegistryError):
    """The database is not a registry of this program."""


class RegistryDamaged(RegistryError):
    """The registry does not hold what was written into it."""


class RegistryOlder(RegistryError):
    """The registry was made by an earlier version and must be upgraded first."""


class RegistryNewer(RegistryError):
    """The registry was made by a later version than this one."""


class RegistryBusy(RegistryError):
    """Somebody else held the registry for longer than the waiting time."""


RENAMED = {("dialect", "ngc"): "rs274", ("dialect", "ngc-r"): "rs274-turned"}
"""Names that the program itself gave up, by kind and key, and what each is called now."""


def unknown(kind: str, name: str, known: Sequence[str] = ()) -> str:
    """What is said of a name that is not there; kind `document` stands for all kinds."""
    kinds = [word for word, _ in RENAMED] if kind == "document" else [kind]
    for word in kinds:
        if (word, name.casefold()) in RENAMED:
            return f"no {kind} is named {name}; it is called {RENAMED[word, name.casefold()]} now"
    shown = " ".join(name.splitlines()) or name  # a message is one line
    return f"no {kind} is named {shown}{suggestion(name, known)}"


def suggestion(name: str, known: Sequence[str]) -> str:
    """The end of a message about an unknown word: what was probably meant, or what there is."""
    if not known:
        return ""
    meant = nearest(name, known)
    if meant is not None:
        return f"; did you mean {meant}?"
    shown = ", ".join(sorted(known)[:8])
    return f"; known: {shown}" + (", .." if len(known) > 8 else "")


def nearest(name: str, known: Sequence[str]) -> str | None:
    """The word that was probably meant by an unknown one; None where none is like it."""
    from difflib import get_close_matches

    by_key = {word.casefold(): word for word in known}
    close = get_close_matches(name.casefold(), list(by_key), n=1, cutoff=0.6)
    return by_key[close[0]] if close else None


def together(*reads: Callable[[], Any]) -> list[Any]:
    """What each of several things comes to. Raises what is wrong with one; BadInput with a line for
    each where more are."""
    found: list[Any] = []
    wrong: list[BadInput] = []
    for read in reads:
        try:
            found.append(read())
        except BadInput as error:
            wrong.append(error)
    if len(wrong) > 1:
        raise BadInput("\n".join(map(str, wrong)))
    if wrong:
        raise wrong[0]
    return found
