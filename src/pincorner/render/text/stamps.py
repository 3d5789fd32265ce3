"""What stamping a program did, as text."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from pincorner.program.check.result import CheckFinding, Report
from pincorner.render.visible import visible
from pincorner.setups.setup import Setup

_IN_THE_AIR = (
    "Run it in the air first, a hand on the feed hold; guards and the rules where you are stay as "
    "they are."
)


class Change(NamedTuple):
    """Lines `first` to `last` of the program as they were and as they are in the copy.

    `what`: `work-offset`, `setup-block` or `rotation-off`. `old` None: something is put in before
    line `first`; `new` None: it is taken out. Where the block selects an offset its `new` is empty.
    """

    what: str
    first: int
    last: int
    old: str | None
    new: str | None

    @property
    def sentence(self) -> str:
        """The change as a line of text."""
        thing = "setup block of " if self.what == "setup-block" else ""
        if self.old is None:
            return f"before line {self.first}: {thing}{self.new} put in"
        lines = (
            f"line {self.first}"
            if self.first == self.last
            else f"lines {self.first} to {self.last}"
        )
        if self.new is None:
            return f"{lines}: {thing}{self.old} taken out"
        if not self.new:
            return f"{lines}: {self.old} left to the block"
        return f"{lines}: {thing}{self.old} became {thing and 'that of '}{self.new}"


def stamp_text(
    path: Path,
    setup: Setup,
    changed: Sequence[Change],
    findings: Sequence[CheckFinding],
    report: Report,
) -> str:
    """What was written, what was changed, and what was found and accepted."""
    lines = [f"{visible(str(path))} holds the program with setup {setup.name} {setup.fingerprint}"]
    lines += [visible(change.sentence) for change in changed]
    lines += [f"! {visible(finding.text)} [{finding.code}], accepted" for finding in findings]
    lines += [f"not looked at: {visible(text)}" for text in report.not_checked]
    lines.append(_IN_THE_AIR)
    return "".join(f"{line}\n" for line in lines)


def repeat_text(
    path: Path,
    sections: Sequence[Setup],
    findings: Sequence[CheckFinding],
    not_checked: Sequence[str],
) -> str:
    """What was written: the sections in order, what was found and accepted."""
    lines = [f"{visible(str(path))} holds {len(sections)} sections"]
    lines += [
        f"{at}  {visible(each.name)}, {each.work_offset}, setup {each.fingerprint}"
        for at, each in enumerate(sections, 1)
    ]
    lines += [f"! {visible(finding.text)} [{finding.code}], accepted" for finding in findings]
    lines += [f"not looked at: {visible(text)}" for text in not_checked]
    lines += [_IN_THE_AIR]
    return "".join(f"{line}\n" for line in lines)
