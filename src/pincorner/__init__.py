"""Work-offset and fixture registry for repeat jobs on a CNC router with a pin-hole bed.

What other programs may use. A shop is opened and asked; here the invented one that comes along:

>>> from pincorner import Shop
>>> shop = Shop.demo()                     # or Shop.open("beehive-shop"), Shop.from_documents(..)
>>> for offset in shop.offsets():
...     print(offset.station, offset.work_offset, offset.refused or (offset.x_mm, offset.y_mm))
end-bars G57 (885.0, 675.0)
end-bars G58 (1075.0, 675.0)
left G55 (294.99, 184.99)
right G56 (1430.01, 189.99)
roof G59 (865.98275, 60.98275)

Lengths are millimetres (`_mm`), angles degrees counter-clockwise (`_deg`), in machine coordinates
where nothing else is said. Errors are PincornerError, whose text is one clear line.
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pincorner.errors import (
        BadInput,
        DocumentErrors,
        FileExists,
        NotPrinted,
        PincornerError,
        Problem,
        Refused,
        RegistryBusy,
        RegistryDamaged,
        RegistryError,
        RegistryForeign,
        RegistryMissing,
        RegistryNewer,
        RegistryOlder,
        UnknownName,
    )
    from pincorner.program.check.result import CheckFinding, Report
    from pincorner.registry.store import Registry
    from pincorner.render.blocks.block import render_block
    from pincorner.setups.facts import Facts
    from pincorner.setups.findings import Finding
    from pincorner.setups.setup import Setup
    from pincorner.setups.transform import make_setups
    from pincorner.shop import Offset, Shop, ShopStation
    from pincorner.work.reports import offsets
    from pincorner.work.session import Session, open_session

    __version__: str

_HOMES = {
    "BadInput": "errors",
    "CheckFinding": "program.check.result",
    "DocumentErrors": "errors",
    "Facts": "setups.facts",
    "FileExists": "errors",
    "Finding": "setups.findings",
    "NotPrinted": "errors",
    "Offset": "shop",
    "PincornerError": "errors",
    "Problem": "errors",
    "Refused": "errors",
    "Registry": "registry.store",
    "RegistryBusy": "errors",
    "RegistryDamaged": "errors",
    "RegistryError": "errors",
    "RegistryForeign": "errors",
    "RegistryMissing": "errors",
    "RegistryNewer": "errors",
    "RegistryOlder": "errors",
    "Report": "program.check.result",
    "Session": "work.session",
    "Setup": "setups.setup",
    "Shop": "shop",
    "ShopStation": "shop",
    "UnknownName": "errors",
    "make_setups": "setups.transform",
    "offsets": "work.reports",
    "open_session": "work.session",
    "render_block": "render.blocks.block",
}

__all__ = [
    "BadInput",
    "CheckFinding",
    "DocumentErrors",
    "Facts",
    "FileExists",
    "Finding",
    "NotPrinted",
    "Offset",
    "PincornerError",
    "Problem",
    "Refused",
    "Registry",
    "RegistryBusy",
    "RegistryDamaged",
    "RegistryError",
    "RegistryForeign",
    "RegistryMissing",
    "RegistryNewer",
    "RegistryOlder",
    "Report",
    "Session",
    "Setup",
    "Shop",
    "ShopStation",
    "UnknownName",
    "__version__",
    "make_setups",
    "offsets",
    "open_session",
    "render_block",
]


if not TYPE_CHECKING:  # a type checker takes the imports above, and knows a name that is none

    def __getattr__(name: str) -> object:
        """Import on first use: a command that needs one part does not pay for the others."""
        if name == "__version__":
            from importlib.metadata import version

            return version("pincorner")
        if name not in _HOMES:
            raise AttributeError(f"module pincorner has no attribute {name}")
        from importlib import import_module

        return getattr(import_module(f"pincorner.{_HOMES[name]}"), name)

    def __dir__() -> list[str]:
        return sorted({*globals(), *__all__})
