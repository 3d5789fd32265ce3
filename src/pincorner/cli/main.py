"""The application: its commands, its options, and the one place that turns errors into codes."""

import gc
import os
import sys
from typing import Annotated, NoReturn

import typer

from pincorner.cli import (
    bed_commands,
    first_commands,
    program_commands,
    registry_commands,
    run_commands,
    station_commands,
)
from pincorner.cli.printing import flush_output, forget_output, print_error, print_text
from pincorner.errors import PincornerError

# Looking for plugins of pydantic reads the metadata of every package there is, at every start.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

app = typer.Typer(
    name="pincorner",
    help="Stations on a pin-hole bed: where each jig's program zero is, the setup block that tells "
    "the controller, and the sheet for the person at the machine.",
    epilog="Start with: pincorner demo. Read on with: pincorner guide",
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version

        print_text(f"pincorner {version('pincorner')}\n")
        raise typer.Exit


@app.callback()
def _application(
    ctx: typer.Context,
    db: Annotated[
        str | None,
        typer.Option(
            "--db",
            metavar="URL",
            help="The registry: a file or a database URL. Left out: PINCORNER_DB, else "
            "fixtures_db/registry.sqlite in the nearest folder upward.",
        ),
    ] = None,
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    ctx.obj = db


first_commands.add_to(app)
registry_commands.add_to(app)
station_commands.add_to(app)
program_commands.add_to(app)
bed_commands.add_to(app)
run_commands.add_to(app)


def run() -> NoReturn:
    """The program: parse, run, and leave with an exit code of the guide's page `scripts`."""
    # What one command makes lives until it ends: looking for rubbish took a fifth of its time.
    gc.disable()
    sys.exit(main(sys.argv[1:]))


def main(arguments: list[str]) -> int:
    """Run one command; its exit code. Errors are lines on standard error."""
    try:
        if sys.stdout is None:
            return _fail("there is no standard output to write to; give it one, or use -o", 2)
        result = app(arguments, standalone_mode=False, prog_name="pincorner")
        flush_output()
    except PincornerError as error:
        return _fail(_typed_in_line(str(error), arguments), error.exit_code)
    except typer.TyperException as error:
        return _fail(_usage(error), 2)
    except (typer.Abort, KeyboardInterrupt):
        return _fail("stopped", 130)
    except BrokenPipeError:
        forget_output()  # the reader of our output has gone
        return 0
    except OSError as error:
        if error.filename is not None:
            return _fail(f"{error.filename} cannot be used: {error.strerror or error}", 2)
        forget_output()
        return _fail(f"standard output cannot be written: {error.strerror}", 2)
    except Exception as error:
        return _fault(error)
    return result if isinstance(result, int) else 0


def _fault(error: Exception) -> int:
    if os.environ.get("PINCORNER_TRACEBACK"):
        raise error
    text = " ".join(f"{type(error).__name__}: {error}".split())
    return _fail(f"a fault in pincorner, please report it: {text}", 2)


def _usage(error: typer.TyperException) -> str:
    """A usage error as one line that says where help is."""
    format_message = getattr(error, "format_message", None)
    message = " ".join((format_message() if format_message else str(error)).split())
    context = getattr(error, "ctx", None)
    path = context.command_path if context is not None else "pincorner"
    return f"{message.rstrip('.')}; see {path} --help" if message else f"see {path} --help"


def _typed_in_line(text: str, arguments: list[str]) -> str:
    """A message, with what was typed in one line: a word of the command line may hold line ends."""
    for word in arguments:
        if len(word.splitlines()) > 1 or word.endswith(("\n", "\r")):
            text = text.replace(word, " ".join(word.splitlines()) or "a line end")
    return text


def _fail(text: str, code: int) -> int:
    print_error(text)
    return code
