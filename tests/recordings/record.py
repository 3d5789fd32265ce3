"""What 400 command lines print and write, recorded, and compared between two states of the code.

`python tests/recordings/record.py compare OLD [NEW]` records the lines of `lines.txt` with the code
of two checkouts (NEW: this one) and prints what differs; exits with 1 where something does.
`record.py record FOLDER` records with the code that Python finds. The lines on a server are run
where PINCORNER_TEST_POSTGRES names a database.

Times, this day and the scratch folder are replaced by words: all else must be the same.
"""

from __future__ import annotations

import contextlib
import datetime
import difflib
import itertools
import os
import re
import shlex
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
SERVER = "SERVER"
NOT_RECORDED = (".sqlite", ".sqlite-journal", ".pdf")
SHOWN_LINES = 40


class Line(NamedTuple):
    """A command line: the shop it is given in, where in it, and its words."""

    shop: str
    number: int
    words: tuple[str, ...]

    @property
    def name(self) -> str:
        """The file that its record stands in."""
        told = re.sub(r"[^A-Za-z0-9.+-]+", "_", " ".join(self.words))[:70]
        return f"{self.shop}-{self.number:03d}-{told}.txt"


def lines(text: str) -> Iterator[Line]:
    """The command lines of a list: `== SHOP` begins a shop, `{a,b}` stands for each in turn."""
    for part in re.split(r"(?m)^== ", text)[1:]:
        shop, *written = part.splitlines()
        given = [line for line in written if line.strip() and not line.startswith("#")]
        every = itertools.chain.from_iterable(map(expanded, given))
        for number, each in enumerate(every, 1):
            yield Line(shop.strip(), number, tuple(shlex.split(each)))


def expanded(line: str) -> Iterator[str]:
    """A line with every choice in braces made, in order."""
    parts = re.split(r"\{([^{}]*)\}", line)
    choices = [part.split(",") if at % 2 else [part] for at, part in enumerate(parts)]
    yield from ("".join(each) for each in itertools.product(*choices))


def record(into: Path) -> None:
    """Run every line and write what it printed and wrote, a file each."""
    into.mkdir(parents=True)
    listed = list(lines((HERE / "lines.txt").read_text(encoding="utf-8")))
    here = Path.cwd()
    for shop, group in itertools.groupby(listed, lambda line: line.shop):
        given = list(group)
        with tempfile.TemporaryDirectory() as made, server_for(given) as url:
            folder = Path(made).resolve() / "shop"
            files = HERE / "shops" / shop
            shutil.copytree(files, folder) if files.is_dir() else folder.mkdir()
            os.chdir(folder)
            try:
                for line in given:
                    text = told(line, folder, url)
                    (into / line.name).write_text(text, encoding="utf-8", newline="\n")
            finally:
                os.chdir(here)
    print(f"{len(listed)} lines recorded")


def server_for(given: list[Line]) -> contextlib.AbstractContextManager[str | None]:
    """The URL of an empty schema where lines need a server and there is one."""
    if not any(SERVER in line.words for line in given):
        return contextlib.nullcontext(None)
    sys.path.insert(0, str(HERE.parent))
    from postgres import WHY_NONE

    return contextlib.nullcontext(None) if WHY_NONE else schema_of_a_server()


@contextlib.contextmanager
def schema_of_a_server() -> Iterator[str]:
    """The URL of an empty schema, on the server named, or on one of our own."""
    from postgres import empty_schema, own_server

    with own_server(), empty_schema() as url:
        yield url


def told(line: Line, folder: Path, url: str | None) -> str:
    """What a line printed and wrote, as text."""
    if SERVER in line.words and url is None:
        return "no server\n"
    words = [url if word == SERVER else word for word in line.words]
    before = contents(folder)
    code, out, err = run(words)
    parts = [f"exit {code}\n", "--- out\n", out, "--- err\n", err]
    after = contents(folder)
    for name in sorted(after.keys() | before.keys()):
        if after.get(name) != before.get(name):
            what = "gone" if name not in after else after[name].decode("utf-8", "replace")
            parts += [f"--- file {name}\n", what]
    return plain("".join(parts), folder, url)


def run(words: list[str]) -> tuple[int, str, str]:
    """Run a command line in this process."""
    from pincorner.cli.main import main

    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        sys.stdout.flush()
        kept = [os.dup(1), os.dup(2)]
        os.dup2(out.fileno(), 1)
        os.dup2(err.fileno(), 2)
        try:
            code = main(words)
            sys.stdout.flush()
            sys.stderr.flush()
        finally:
            for number, copy in enumerate(kept, 1):
                os.dup2(copy, number)
                os.close(copy)
        found = []
        for each in (out, err):
            each.seek(0)
            found.append(each.read().decode("utf-8", "replace"))
    return code, found[0], found[1]


def contents(folder: Path) -> dict[str, bytes]:
    """The files of a folder, databases apart."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file() and path.suffix not in NOT_RECORDED
    }


def plain(text: str, folder: Path, url: str | None) -> str:
    """The text without what differs from run to run."""
    now = datetime.datetime.now().astimezone()
    days = {now.date(), now.astimezone(datetime.UTC).date()}
    import pincorner

    code = Path(pincorner.__file__).resolve().parents[2]
    text = (
        text.replace(__file__, "RECORD")
        .replace(str(code), "CODE")
        .replace(str(folder), "FOLDER")
        .replace(str(folder.parent), "ABOVE")
    )
    if url is not None:
        text = re.sub(r"postgresql[^\s\"'<>]*", "SERVER", text)
    text = re.sub(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(:\d\d(\.\d+)?)?(Z|[+-]\d\d:\d\d)?", "TIME", text)
    text = re.sub(r"\$(TD\w+|\w+GUID)\n.*\n.*", r"$\1", text)  # the header of a DXF
    for day in days:
        text = text.replace(day.isoformat(), "DAY")
    return text


def compare(old: Path, new: Path) -> int:
    """Record with two checkouts and print what differs; how many lines do."""
    with tempfile.TemporaryDirectory() as made:
        records = []
        for name, top in (("old", old), ("new", new)):
            into = Path(made) / name
            kept = {**os.environ, "PYTHONPATH": str(top / "src"), "PYTHONDONTWRITEBYTECODE": "1"}
            kept["PYTHONHASHSEED"] = "0"  # a library writes the members of sets
            kept.pop("PINCORNER_DB", None)
            subprocess.run([sys.executable, __file__, "record", str(into)], env=kept, check=True)
            records.append({path.name: path.read_text("utf-8") for path in into.iterdir()})
        before, after = records
        found_names = differing(before, after)
        for name in found_names:
            print(f"\n===== {name}")
            found = list(
                difflib.unified_diff(
                    *(each.get(name, "").splitlines() for each in records), lineterm="", n=0
                )
            )[2:]
            print("\n".join(each[:240] for each in found[:SHOWN_LINES]))
            if len(found) > SHOWN_LINES:
                print(f".. and {len(found) - SHOWN_LINES} lines more")
        print(f"\n{len(before)} lines, {len(found_names)} differ")
        return len(found_names)


def differing(before: dict[str, str], after: dict[str, str]) -> list[str]:
    """The lines whose records are not the same."""
    return sorted(
        name for name in before.keys() | after.keys() if before.get(name) != after.get(name)
    )


if __name__ == "__main__":
    match sys.argv[1:]:
        case ["record", into]:
            record(Path(into))
        case ["compare", old, *rest]:
            sys.exit(compare(Path(old).resolve(), Path(*rest or [ROOT]).resolve()) > 0)
        case _:
            sys.exit(__doc__)
