"""Two writers at one registry, whichever database holds it."""

from __future__ import annotations

import threading

from worlds import BASE, entries

from pincorner.documents.jigs import Jig
from pincorner.registry.store import Registry


def second_writer_sees(location: str) -> list[str]:
    """Jigs that a second writer sees, once the first, who adds tray-2, has let it in.

    Fails where it gets in while the first still writes.
    """
    first, other = Registry(location), Registry(location)
    seen: list[list[str]] = []

    def write() -> None:
        with other.writing("other", "load") as writer:
            seen.append(writer.reader.names(Jig))

    thread = threading.Thread(target=write)
    with first.writing("tester", "load") as writer:
        thread.start()
        thread.join(0.3)
        assert not seen
        writer.put([e.document for e in entries(BASE.replace("panel-tray", "tray-2"))])
    thread.join(10)
    (names,) = seen
    return names
