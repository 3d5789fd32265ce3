"""The public names as a type checker sees them in another program; mypy reads it, nothing runs it.

A name that were missing, or no more than Any, would not pass `assert_type`.
"""

from __future__ import annotations

from typing import assert_type

import pincorner
from pincorner import (
    BadInput,
    CheckFinding,
    DocumentErrors,
    Facts,
    FileExists,
    Finding,
    NotPrinted,
    Offset,
    PincornerError,
    Problem,
    Refused,
    Registry,
    RegistryBusy,
    RegistryDamaged,
    RegistryError,
    RegistryForeign,
    RegistryMissing,
    RegistryNewer,
    RegistryOlder,
    Report,
    Session,
    Setup,
    Shop,
    ShopStation,
    UnknownName,
    make_setups,
    offsets,
    open_session,
    render_block,
)


def a_shop_is_asked(shop: Shop, station: ShopStation, offset: Offset) -> None:
    assert_type(Shop.open("shop"), Shop)
    assert_type(Shop.from_documents(["a.yaml"], folder="."), Shop)
    assert_type(shop.station("left"), ShopStation)
    assert_type(shop.offsets("left"), tuple[Offset, ...])
    assert_type(station.setups, tuple[Setup, ...])
    assert_type(offset.outcome, Setup | Refused)
    assert_type((offset.x_mm, offset.refused), tuple[float, str])
    assert_type(station.block(nest="a"), str)
    report = assert_type(shop.check("hand-hold", station="left", tools_mm={1: 6.0}), Report)
    assert_type(report.findings, tuple[CheckFinding, ...])
    assert_type(pincorner.__version__, str)


def what_it_is_made_of(session: Session, registry: Registry, setup: Setup) -> None:
    assert_type(open_session(None, "read"), Session)
    assert_type(session.registry, Registry)
    assert_type(registry.location, str)
    assert_type(setup.facts, Facts)
    assert_type(setup.findings, tuple[Finding, ...])
    assert_type(make_setups(setup.facts), list[Setup])
    assert_type(render_block([setup]), str)
    assert_type([row.setup for row in offsets(session, (), None)], list[Setup | None])


def errors_form_a_tree(
    unknown: UnknownName, documents: DocumentErrors, exists: FileExists, unprinted: NotPrinted
) -> list[type[PincornerError]]:
    wrong: list[BadInput] = [unknown, documents, exists, unprinted]
    assert_type(documents.problems, tuple[Problem, ...])
    assert_type(unknown.known, tuple[str, ...])
    registry: list[type[RegistryError]] = [
        RegistryBusy, RegistryDamaged, RegistryForeign, RegistryMissing, RegistryNewer,
        RegistryOlder,
    ]  # fmt: skip
    return [Refused, *map(type, wrong), *registry]
