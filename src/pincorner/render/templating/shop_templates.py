"""A shop's own templates, rendered in a child process that is stopped when it goes too far.

The sandbox keeps a template from the program and the machine; what no sandbox bounds (endless
loops, output repeated for ever, a fault in the sandbox that takes the process down) ends here. One
child serves all pages of a command, and there is none for a shop without a template of its own.
"""

from __future__ import annotations

import atexit
import json
import subprocess
import sys
from pathlib import Path
from threading import Event, Timer
from typing import NamedTuple

from pincorner.characters import visible
from pincorner.errors import BadInput
from pincorner.render.templating.own_pages import MB, packed


class Limits(NamedTuple):
    """What one page of a shop's own template may take."""

    seconds: float = 20.0
    memory_mb: int = 512
    output_mb: int = 20


LIMITS = Limits()

# The program's own folder is named, and the working folder (-P) is not looked into: a shop folder
# could hold a jinja2.py.
_CHILD = """
import sys
sys.path.insert(0, sys.argv[1])
from pincorner.render.templating.own_pages import main
main(*sys.argv[2:])
"""


class _Child:
    """A process that renders pages from one folder's templates."""

    def __init__(self, folder: Path, limits: Limits) -> None:
        self.folder, self.limits = folder, limits
        program = Path(__file__).resolve().parents[3]
        more = (program, folder.absolute(), limits.memory_mb, limits.output_mb)
        self.process = subprocess.Popen(
            [sys.executable, "-P", "-c", _CHILD, *map(str, more)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def ask(self, name: str, values: object) -> tuple[bytes, bytes]:
        """The kind and the bytes of its answer; both empty where it ended without one."""
        assert self.process.stdin is not None and self.process.stdout is not None
        try:
            self.process.stdin.write(json.dumps([name, packed(values)]).encode("ascii") + b"\n")
            self.process.stdin.flush()
            kind, _, length = self.process.stdout.readline(40).partition(b" ")
            size = int(length or 0)
            data = self.process.stdout.read(size) if size <= self.limits.output_mb * MB else b""
        except (OSError, ValueError):  # it was stopped, or ended, while it was spoken to
            return b"", b""
        return (kind, data) if kind and len(data) == size else (b"", b"")

    def stop(self) -> int:
        """End the process and take it away; its exit code."""
        self.process.kill()
        for pipe in (self.process.stdin, self.process.stdout):
            if pipe is not None:
                try:
                    pipe.close()
                except OSError:
                    continue  # what it was not told any more is lost, and meant to be
        return self.process.wait()


_running: dict[Path, _Child] = {}
"""The child that is there, by its folder: none or one."""


@atexit.register
def stop_child() -> None:
    """End the child, if there is one."""
    while _running:
        _running.popitem()[1].stop()


def _child_for(folder: Path) -> _Child:
    child = _running.get(folder)
    if child is None or child.limits != LIMITS or child.process.poll() is not None:
        stop_child()
        child = _running[folder] = _Child(folder, LIMITS)
    return child


def render_own(name: str, overrides: Path, values: object) -> str:
    """A page from a shop's own template, or from a shipped one that includes such.

    `values` are plain data. Raises BadInput, with the template's name, for a fault in it and for a
    page that takes more than LIMITS.
    """
    try:
        child = _child_for(overrides.absolute())
    except OSError as error:
        raise BadInput(
            f"template {name}: no process can be started for it: {error.strerror or error}"
        ) from None
    late = Event()

    def stop() -> None:
        late.set()
        child.process.kill()

    timer = Timer(child.limits.seconds, stop)
    timer.start()
    kind, data = child.ask(name, values)
    timer.cancel()
    if kind == b"page":
        return data.decode("utf-8")
    if kind == b"fault":
        said = " ".join(visible(data.decode("utf-8", "replace")).split())
        raise BadInput(f"template {said}")
    code = _running.pop(child.folder).stop()
    if late.is_set():
        raise BadInput(
            f"template {name}: stopped after {child.limits.seconds:g} s; look for a loop that "
            "does not end"
        )
    raise BadInput(
        f"template {name}: its process ended without a page (exit code {code}); it may need more "
        f"than {child.limits.memory_mb} MB of memory"
    )
