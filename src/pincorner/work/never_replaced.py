"""What no output of a command replaces, with or without --force: one list for all commands."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from pincorner.documents.jigs import Jig
from pincorner.documents.records import Program
from pincorner.registry.locations import sqlite_path
from pincorner.shipped import shipped_folder
from pincorner.staging import BESIDE_A_DATABASE
from pincorner.work.files.outputs import KeptPath, Outputs, kept_paths
from pincorner.work.files.whereabouts import REGISTRY_FILE, TEMPLATES_FOLDER
from pincorner.work.session import Session


def outputs_of(
    session: Session, force: bool, inputs: Iterable[KeptPath] = (), *, databases: bool = False
) -> Outputs:
    """The way out for a command's files. Raises RegistryError.

    Kept are the `inputs` of the same command, the registry with what belongs to it, the files of
    programs and the photos on file, and the folders of templates.
    """
    templates = session.shop / TEMPLATES_FOLDER
    files = (
        *registry_files(session.registry.location),
        *inputs,
        *_on_file(session),
        *(KeptPath(file, "a template of the shop") for file in _inside(templates)),
    )
    folders = (
        KeptPath(templates, "a place for the shop's templates"),
        KeptPath(shipped_folder("templates"), "a place of pincorner's own"),
        KeptPath(shipped_folder("fixtures_db"), "a place of pincorner's own"),
    )
    return Outputs(force, kept_paths(files, folders), databases)


def registry_files(location: str) -> Iterator[KeptPath]:
    """The registry's file and those that its database keeps beside it; the shop's own, too."""
    for file in filter(None, (sqlite_path(location), REGISTRY_FILE)):
        yield KeptPath(file, "the registry")
        for end in BESIDE_A_DATABASE:
            yield KeptPath(file.with_name(file.name + end), "a part of the registry")


def _inside(folder: Path) -> list[Path]:
    try:
        return list(folder.iterdir())
    except OSError:
        return []  # there is none


def _on_file(session: Session) -> Iterator[KeptPath]:
    """Files that documents name."""
    with session.registry.reading() as reader:
        programs, jigs = reader.all(Program), reader.all(Jig)
    for program in programs:
        yield KeptPath(session.shop / program.file, f"the file of program {program.name}")
    for jig in jigs:
        if jig.photo is not None:
            yield KeptPath(session.shop / jig.photo, f"the photo of jig {jig.name}")
