"""The front door for Python: a shop's stations, asked in the same way as on the command line.

Nothing here computes: each answer is that of the function of `work` which the command of the same
name calls. Lengths are millimetres, angles degrees counter-clockwise. Whatever is wrong with what
was asked for is raised as a PincornerError whose text is one clear line (DocumentErrors: one for
each problem). Nothing is written; but whoever opens a registry settles what a killed command left.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from os import PathLike, fspath
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from pincorner.errors import BadInput, Refused

if TYPE_CHECKING:
    from pincorner.program.check.result import Report
    from pincorner.setups.setup import OffsetRow, Setup
    from pincorner.work.session import Source

# What does the work is imported where it is called: `import pincorner` needs none of it.

PathText = str | PathLike[str]
"""A path of a file, as text or as a Path."""


class Offset(NamedTuple):
    """Where the program zero of one nest is, or why that cannot be said.

    `work_offset`: the code that holds it (`G55`), None where the nest has none. `outcome`: the
    Setup with every number, or the Refused that a station which cannot be located is told with.
    On a machine that does not home, coordinates count from the origin of `setup.relative_to`.

    >>> from pincorner import Refused, Setup, Shop
    >>> for offset in Shop.demo().offsets("left", "roof"):
    ...     match offset.outcome:
    ...         case Setup() as setup:
    ...             print(offset.station, offset.work_offset, setup.zero_in_machine.x_mm)
    ...         case Refused() as refusal:
    ...             print(offset.station, refusal.text)
    left G55 294.99
    roof G59 865.98275
    """

    station: str
    nest: str
    work_offset: str | None
    outcome: Setup | Refused

    @property
    def is_located(self) -> bool:
        """Whether the station can be located, so that there are numbers."""
        return not isinstance(self.outcome, Refused)

    @property
    def refused(self) -> str:
        """Why the station cannot be located, in one sentence; empty where it can."""
        return self.outcome.text if isinstance(self.outcome, Refused) else ""

    @property
    def setup(self) -> Setup:
        """The setup with every number. Raises Refused where the station cannot be located.

        >>> from pincorner import Shop
        >>> left, = Shop.demo().offsets("left")
        >>> left.setup.fingerprint, round(left.setup.budget.u95_worst_mm, 3)
        ('EECF-8F5A', 0.171)
        """
        if isinstance(self.outcome, Refused):
            raise Refused(self.outcome.cause, self.outcome.text)
        return self.outcome

    @property
    def x_mm(self) -> float:
        """X of program zero in machine coordinates, mm, unrounded. Raises Refused."""
        return self.setup.zero_in_machine.x_mm

    @property
    def y_mm(self) -> float:
        """Y of program zero in machine coordinates, mm, unrounded. Raises Refused."""
        return self.setup.zero_in_machine.y_mm

    @property
    def angle_deg(self) -> float:
        """Angle of the program's axes in the machine, less the program's own, in (-180, 180].

        Raises Refused.
        """
        return self.setup.angle_deg


class ShopStation(NamedTuple):
    """One station of a shop, by its name; what is asked of it is read when it is asked.

    `as_of`: the day or time up to which it is looked at; None: now.
    """

    shop: Shop
    name: str
    as_of: str | None = None

    @property
    def setups(self) -> tuple[Setup, ...]:
        """The setups of its nests, in the jig's order.

        Raises Refused where the station cannot be located.

        >>> from pincorner import Shop
        >>> for setup in Shop.demo().station("end-bars").setups:
        ...     print(setup.nest.name, setup.work_offset, setup.zero_in_machine.x_mm)
        a G57 885.0
        b G58 1075.0
        """
        from pincorner.work.reports import setups_of

        return tuple(setups_of(self.shop.source, self.name, self.as_of, None))

    def offsets(self) -> tuple[Offset, ...]:
        """Where the zero of each of its nests is, or why that cannot be said."""
        return self.shop.offsets(self.name, as_of=self.as_of)

    def block(self, *, nest: str | None = None, stock_thickness_mm: float | None = None) -> str:
        """Its setup block; see Shop.block."""
        return self.shop.block(
            self.name, nest=nest, stock_thickness_mm=stock_thickness_mm, as_of=self.as_of
        )


class Shop:
    """A shop's registry, or its documents alone, to be asked.

    Make one with `open`, `from_documents` or `demo`. Reading is all that it does; what changes a
    registry are commands.
    """

    def __init__(self, source: Source) -> None:
        self.source = source

    @classmethod
    def open(cls, path: PathText | None = None) -> Shop:
        """The shop of a registry: a file, a shop folder or a database URL, as after `--db`.

        With None it is looked for as the command line does: PINCORNER_DB, else
        `fixtures_db/registry.sqlite` in the nearest folder upward. Every answer is read anew, so
        that it is of the moment. Raises RegistryError (RegistryMissing, RegistryOlder, ..),
        BadInput for a URL that cannot be read.

        In the folder that `pincorner demo` made:

        >>> from pincorner import Shop
        >>> Shop.open("fixtures_db/registry.sqlite").stations()
        ('end-bars', 'left', 'right', 'roof', 'spare')
        """
        from pincorner.work.session import open_session

        session = open_session(None if path is None else fspath(path), "read")
        with session.reading():
            return cls(session)

    @classmethod
    def from_documents(
        cls, files: PathText | Iterable[PathText], *, folder: PathText | None = None
    ) -> Shop:
        """The shop that files of documents describe; no registry is made or needed.

        The shipped dialects are there, names are looked up across all files, and pins that are
        left to the program are chosen as by `pincorner load`. `folder`: what program files are
        relative to; the folder of the first file if left out. Raises DocumentErrors with every
        problem of every file, BadInput for a file that cannot be read.

        >>> from pincorner import Shop
        >>> from pincorner.shipped import shipped_folder
        >>> shop = Shop.from_documents(shipped_folder("fixtures_db") / "beehive.yaml")
        >>> shop.stations()
        ('end-bars', 'left', 'right', 'roof')
        """
        from pincorner.work.loading import read_alone

        named = [files] if isinstance(files, str | PathLike) else files
        paths = [Path(each) for each in named]
        if not paths:
            raise BadInput("expected a file of documents, got none")
        return cls(read_alone(paths, paths[0].parent if folder is None else Path(folder)))

    @classmethod
    def demo(cls) -> Shop:
        """The invented beehive workshop that comes with the program, from its documents.

        >>> from pincorner import Shop
        >>> Shop.demo().station("left").setups[0].work_offset
        'G55'
        """
        from pincorner.shipped import shipped_folder

        shipped = shipped_folder("fixtures_db")
        return cls.from_documents(shipped / "beehive.yaml", folder=shipped / "programs")

    def stations(self, *, as_of: str | None = None) -> tuple[str, ...]:
        """The names of all stations, in order. Raises BadInput for an `as_of` that is no time."""
        from pincorner.work.reports import names

        return tuple(name for _, name, _ in names(self.source, "station", as_of))

    def station(self, name: str, *, as_of: str | None = None) -> ShopStation:
        """One station, by its name without regard to case; `as_of` as for `offsets`.

        Raises UnknownName, with what was probably meant.

        >>> from pincorner import Shop, UnknownName
        >>> shop = Shop.demo()
        >>> shop.station("LEFT").name
        'left'
        >>> try:
        ...     shop.station("lefd")
        ... except UnknownName as error:
        ...     print(error)
        no station is named lefd; did you mean left?
        """
        from pincorner.work.reports import station_named

        return ShopStation(self, station_named(self.source, name, as_of).name, as_of)

    def offsets(self, *stations: str, as_of: str | None = None) -> tuple[Offset, ...]:
        """The offset table: each nest of the stations named (of all with none), located or not.

        `as_of`: a date (the end of that local day) or a time, such as "2026-11-20"; what was
        recorded up to then counts, and documents alone have no past. A station that cannot be
        located is told in its rows and raises nothing here. Raises UnknownName, BadInput for an
        `as_of` that is no time, RegistryError.

        >>> from pincorner import Shop
        >>> for offset in Shop.demo().offsets():
        ...     print(offset.station, offset.nest, offset.work_offset, offset.x_mm, offset.y_mm)
        end-bars a G57 885.0 675.0
        end-bars b G58 1075.0 675.0
        left a G55 294.99 184.99
        right a G56 1430.01 189.99
        roof a G59 865.98275 60.98275
        """
        from pincorner.work.reports import offsets

        return tuple(map(_offset, offsets(self.source, stations, as_of)))

    def block(
        self,
        station: str,
        *,
        nest: str | None = None,
        stock_thickness_mm: float | None = None,
        as_of: str | None = None,
    ) -> str:
        """The setup block of a station: lines that end with a newline, to be run before a program.

        It selects the offset of `nest`, of the first that has one with None. `stock_thickness_mm`:
        today's piece instead of the stock on file. It is not recorded as a paper; `pincorner block
        -o FILE` does that. Raises UnknownName, BadInput, and Refused with everything that speaks
        against writing it.

        >>> from pincorner import Shop
        >>> for line in Shop.demo().block("left").splitlines():
        ...     if not line.startswith("("):
        ...         print(line)
        G40
        G21 G90
        G17 G49 G80 G94 G98
        G92.1
        G10 L2 P2 X294.990 Y184.990
        G55
        """
        from pincorner.documents.fields import check_size
        from pincorner.units import check_length
        from pincorner.work.reports import block_text

        if stock_thickness_mm is not None:
            try:
                check_size(check_length(stock_thickness_mm), f"{stock_thickness_mm}")
            except ValueError as error:
                raise BadInput(f"stock_thickness_mm: {error}") from None
        text, _ = block_text(self.source, station, nest, as_of, stock_thickness_mm)
        return text

    def check(
        self,
        program: PathText,
        *,
        station: str,
        nest: str | None = None,
        tools_mm: Mapping[int, float] | None = None,
        margin_mm: float | None = None,
    ) -> Report:
        """What reading a program against a station finds, as `pincorner check` tells it.

        `program`: a path, else a program's name; `nest`: the first with None; `tools_mm`: cutter
        diameters by tool number, before those of the program's document; `margin_mm`: how near
        anything may come, as well as the zero is known with None. Raises UnknownName, BadInput,
        and Refused where the station cannot be located.

        Nothing found is no promise: `not_checked` says what was not looked at.

        >>> from pincorner import Shop
        >>> report = Shop.demo().check("hand-hold", station="left")
        >>> report.verdict, report.findings, report.cutting_extent.z
        ('nothing-found', (), (-12.0, 2.0))
        """
        from pincorner.work.programs.checking import check, find_job

        for number, diameter_mm in (tools_mm or {}).items():
            if not _is_size(diameter_mm):
                raise BadInput(f"tools_mm: expected a size above 0 for {number}, got {diameter_mm}")
        if margin_mm is not None and not (_is_size(margin_mm) or margin_mm == 0):
            raise BadInput(f"margin_mm: expected nothing or more, got {margin_mm}")
        job = find_job(self.source, fspath(program), station, nest)
        return check(job, tools_mm or {}, margin_mm, lambda _: None).report


def _is_size(length_mm: float) -> bool:
    return math.isfinite(length_mm) and length_mm > 0


def _offset(row: OffsetRow) -> Offset:
    station = row.facts.station
    return Offset(station.name, row.nest, station.code_of(row.nest), row.outcome)
