"""What a database's errors mean to a person."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

from sqlalchemy.exc import DBAPIError, SQLAlchemyError

from pincorner.errors import (
    RegistryBusy,
    RegistryDamaged,
    RegistryError,
    RegistryMissing,
)
from pincorner.registry.locations import shown

WHAT_HELPS = (
    "put a backup back with pincorner restore FILE --force, which keeps this one beside it, or "
    "move it away and make one with pincorner init"
)
_NO_RIGHTS = "42501"  # PostgreSQL, appendix A: insufficient_privilege
_NO_SUCH_DATABASE = "3D000"  # invalid_catalog_name
_READ_ONLY = "25006"  # read_only_sql_transaction
_CUT = ("08", "57P0")  # connection exceptions; shut down by an administrator or a crash
_REFUSED = ("28",)  # invalid_authorization_specification
_NOT_LET_IN = ("authentication failed", "no pg_hba.conf entry", "no password supplied", 'role "')
_NO_ANSWER = (
    "onnection refused",
    "connection failed",
    "the server running",  # the database's library asks it back, where a socket is not there too
    "resolve host",
    "translate host",
    "timeout",
)


@contextmanager
def explained(location: str, waited_s: float, holder: Callable[[], str | None]) -> Iterator[None]:
    """Turn the database's errors into ours; `holder` says for whom a command waited in vain."""
    try:
        yield
    except SQLAlchemyError as error:
        if is_busy(error):
            raise RegistryBusy(busy_text(shown(location), holder(), waited_s)) from None
        raise meaning(error, location) from None
    except UnicodeDecodeError:  # the database's own words hold bytes of the damaged page
        raise damaged("it holds bytes that are no text", location) from None


def damaged(what: str, location: str) -> RegistryDamaged:
    """A registry that does not hold what was written into it, with what to do."""
    return RegistryDamaged(f"{shown(location)} is damaged ({what}): {WHAT_HELPS}")


def is_busy(error: SQLAlchemyError) -> bool:
    """Whether another command holds what this one needs."""
    text = _one_line(error)
    return "is locked" in text or "lock timeout" in text


def sqlstate(error: SQLAlchemyError) -> str:
    """PostgreSQL's code for an error; empty where there is none."""
    inner = getattr(error, "orig", None)
    return str(getattr(inner, "sqlstate", None) or getattr(inner, "pgcode", None) or "")


def meaning(error: SQLAlchemyError, location: str) -> RegistryError:
    """The error to tell, with what to do."""
    text, place = _one_line(error), shown(location)
    return (
        _of_file(text, place) or _of_server(error, text, place) or RegistryError(f"{place}: {text}")
    )


def _of_file(text: str, place: str) -> RegistryError | None:
    if "not a database" in text:
        return RegistryDamaged(f"{place} is no registry, or a damaged one: {WHAT_HELPS}")
    if "malformed" in text:
        return damaged(text, place)
    if "readonly" in text:
        return RegistryError(f"{place} may be read but not written; check its permissions")
    if "unable to open" in text:
        return RegistryMissing(f"{place} cannot be opened; check the path and its permissions")
    return None


def _of_server(error: SQLAlchemyError, text: str, place: str) -> RegistryError | None:
    code = sqlstate(error)
    if code == _NO_RIGHTS:
        return RegistryError(
            f"this role may not do that in {place} ({text}); ask its owner to grant it"
        )
    if code == _READ_ONLY:
        return RegistryError(f"{place} may be read but not written; check the role and server")
    if code.startswith(_REFUSED) or any(sign in text for sign in _NOT_LET_IN):
        return RegistryError(f"{place} does not let this user in; check the name and password")
    if code == _NO_SUCH_DATABASE or ("database" in text and "does not exist" in text):
        return RegistryMissing(f"{place}: there is no such database; make it, or name another")
    if code.startswith(_CUT) or _was_cut(error, text):
        return RegistryError(
            f"the connection to {place} was cut; see pincorner history for whether the change is "
            "there, and try again"
        )
    refused = text.rpartition("FATAL: ")[2] if "FATAL: " in text else ""
    if refused:
        return RegistryError(f"{place} takes no more commands now ({refused.strip()}); try again")
    if any(sign in text for sign in _NO_ANSWER):
        return RegistryError(f"{place} does not answer; check host, port and that it is running")
    return None


def _was_cut(error: SQLAlchemyError, text: str) -> bool:
    """Whether an error without a code says that the server has gone."""
    if isinstance(error, DBAPIError) and error.connection_invalidated:
        return True
    signs = (
        "server closed the connection", "connection is lost", "connection is closed",
        "connection has been closed", "connection already closed", "invalid transaction",
        "This Connection is closed", "connection not open", "terminating connection",
    )  # fmt: skip
    return any(sign in text for sign in signs)


def busy_text(place: str, holder: str | None, seconds: float) -> str:
    """What is told to a command that waited for another one."""
    by = holder or "another command"
    return f"{place} is in use by {by} for more than {seconds:g} s; try again"


def _one_line(error: Exception) -> str:
    inner = getattr(error, "orig", None) or error
    return " ".join(str(inner).split())
