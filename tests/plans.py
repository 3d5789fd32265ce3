"""Plans of runs for tests: of a shop's registry, without a command line, and what they print."""

from __future__ import annotations

import json
from contextlib import ExitStack
from pathlib import Path
from typing import Any
from unittest import mock

from worlds import entries, make_registry

from pincorner.documents.fields import key_of
from pincorner.registry.store import Registry
from pincorner.render.outputs.runs import run_json
from pincorner.render.pages.run_page import render_run_page
from pincorner.runs.plan import RunPlan
from pincorner.work.runs import planning
from pincorner.work.session import Session, state_at


def registry_of(shop: Path) -> Registry:
    """The registry of a shop folder."""
    return Registry(str(shop / "fixtures_db" / "registry.sqlite"))


def shop_of(folder: Path, text: str) -> None:
    """Make a folder a shop with the documents of a text."""
    (folder / "fixtures_db").mkdir()
    make_registry(folder / "fixtures_db" / "registry.sqlite", text)


def planned(shop: Path, name: str, *, helped: bool = False) -> RunPlan:
    """The plan of a run of a shop.

    `helped`: with what would help it, which takes four fifths of a plan's time.
    """
    with ExitStack() as patched:
        if not helped:
            patched.enter_context(mock.patch.object(planning, "_helps", return_value=()))
        return planning.plan(Session(registry_of(shop), "tester", "run"), name)


def report_of(plan: RunPlan) -> dict[str, Any]:
    """A plan as `run --json` prints it."""
    return dict(json.loads(json.dumps(run_json(plan))))


def page_of(plan: RunPlan, paper: str = "a4") -> str:
    """A plan's page, as HTML."""
    return render_run_page(plan, paper, state_at(*plan.change), None)


def document(shop: Path, kind: str, name: str) -> dict[str, Any]:
    """A document of a shop's registry, as it is kept."""
    with registry_of(shop).reading() as reader:
        body = reader.body(kind, key_of(name))
    assert body is not None, (kind, name)
    return dict(json.loads(body))


def put(shop: Path, text: str) -> None:
    """Write the documents of a YAML text into a shop's registry, as one change."""
    documents = [entry.document for entry in entries(f"format: 1\n{text}")]
    with registry_of(shop).writing("tester", "load") as writer:
        writer.put(documents)


def change(shop: Path, kind: str, name: str, **keys: Any) -> None:
    """Write a document with some keys changed; those that are None are left out."""
    changed = {**document(shop, kind, name), **keys}
    put(shop, f"{kind}s: [{json.dumps({k: v for k, v in changed.items() if v is not None})}]\n")
