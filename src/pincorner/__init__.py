"""Work-offset and fixture registry for repeat jobs on a CNC router with a pin-hole bed.

The face that other programs may use: open a registry, ask for offsets, render a block.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pincorner.registry.store import Registry
    from pincorner.render.blocks.block import render_block
    from pincorner.setups.setup import Setup
    from pincorner.setups.transform import make_setups
    from pincorner.work.reports import offsets
    from pincorner.work.session import Session, open_session

_HOMES = {
    "Registry": "pincorner.registry.store",
    "Session": "pincorner.work.session",
    "Setup": "pincorner.setups.setup",
    "make_setups": "pincorner.setups.transform",
    "offsets": "pincorner.work.reports",
    "open_session": "pincorner.work.session",
    "render_block": "pincorner.render.blocks.block",
}

__all__ = [
    "Registry",
    "Session",
    "Setup",
    "make_setups",
    "offsets",
    "open_session",
    "render_block",
]


def __getattr__(name: str) -> Any:
    """Import on first use: a command that needs one part does not pay for the others."""
    if name not in _HOMES:
        raise AttributeError(f"module pincorner has no attribute {name}")
    from importlib import import_module

    return getattr(import_module(_HOMES[name]), name)
