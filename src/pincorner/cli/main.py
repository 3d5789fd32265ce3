"""The application: its commands, its options, and the one place that turns errors into codes."""

import gc
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from inspect import getdoc
from typing import Annotated, Any, NoReturn

import typer
import typer.core
import typer.main

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

GROUPS: dict[str, dict[str, str]] = {
    "Make": {
        "start": "pincorner guide first",
        "demo": "pincorner guide start",
        "init": "pincorner guide start",
        "example": "pincorner guide documents",
        "edit": "pincorner guide documents",
        "load": "pincorner guide documents",
    },
    "Register": {
        "place": "pincorner guide stations",
        "register": "pincorner guide stations",
        "adopt": "pincorner guide stations",
        "offsets": "pincorner guide numbers",
        "explain": "pincorner guide numbers",
    },
    "Paper": {
        "block": "pincorner guide blocks",
        "sheet": "pincorner guide papers",
        "map": "pincorner guide papers",
        "refresh": "pincorner guide papers",
    },
    "Programs": {
        "check": "pincorner guide programs",
        "stamp": "pincorner guide programs",
        "repeat": "pincorner guide programs",
    },
    "Runs": {
        "run": "pincorner guide runs",
    },
    "Care of the bed": {
        "status": "pincorner guide changes",
        "verify": "pincorner guide bed",
        "survey": "pincorner guide bed",
        "resurface": "pincorner guide bed",
        "disturbed": "pincorner guide bed",
    },
    "Registry": {
        "list": "pincorner guide documents",
        "show": "pincorner guide documents",
        "retire": "pincorner guide changes",
        "history": "pincorner guide changes",
        "dump": "pincorner guide changes",
        "backup": "pincorner guide changes",
        "restore": "pincorner guide changes",
        "upgrade": "pincorner guide changes",
        "schema": "pincorner guide scripts",
        "guide": "pincorner guide cautions",
    },
}
"""The commands in groups, all in the order of use, each with where to read on."""

_SEE_ALSO = {name: page for group in GROUPS.values() for name, page in group.items()}


FUNCTIONS: dict[str, Callable[..., Any]] = {
    **first_commands.commands(),
    **registry_commands.commands(),
    **station_commands.commands(),
    **program_commands.commands(),
    **bed_commands.commands(),
    **run_commands.commands(),
}
"""What each command does; its docstring is its help, its parameters are its options."""


class PlainHelp(typer.core.TyperCommand):
    """A command whose help names arguments one way: NAME, [NAME] where it may be left out, NAME...
    where there may be several; without the types of the language it is written in."""

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """The options, then the arguments."""
        arguments = [p for p in self.get_params(ctx) if p.param_type_name == "argument"]
        return [self.options_metavar or "", *map(_argument, arguments)]

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Arguments and options with what they are."""
        rows: dict[str, list[tuple[str, str]]] = {"argument": [], "option": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is not None and param.param_type_name == "argument":
                record = _argument(param), record[1]
            if record is not None:
                rows[param.param_type_name].append(record)
        for kind, found in rows.items():
            if found:
                with formatter.section(f"{kind.capitalize()}s"):
                    formatter.write_dl(found)


def _argument(param: Any) -> str:
    """An argument's name as help shows it."""
    name = (param.metavar or param.name.upper()).strip("[].")
    several = f"{name}..." if param.nargs == -1 else name
    return several if param.required else f"[{several}]"


class Commands(Mapping[str, Any]):
    """The commands by name, each made of its function when it is asked for.

    Making the options of all of them took longer than what most commands do.
    """

    def __init__(self) -> None:
        self._made: dict[str, Any] = {}

    def __getitem__(self, name: str) -> Any:
        if name not in self._made:
            function, see_also = FUNCTIONS[name], f"See also:  {_SEE_ALSO[name]}"
            alone = typer.Typer(add_completion=False, rich_markup_mode=None)
            alone.command(name, cls=PlainHelp, epilog=see_also)(function)
            self._made[name] = typer.main.get_command(alone)
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(FUNCTIONS)

    def __len__(self) -> int:
        return len(FUNCTIONS)


class Grouped(typer.core.TyperGroup):
    """The application, whose help shows its commands in groups."""

    commands: Any  # a mapping that is only read

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.commands = Commands()

    def invoke(self, ctx: Any) -> Any:
        """Run the command; Ctrl-C reaches `main`, which says so: typer would end without a word."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise typer.Abort from None

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write the commands, group by group."""
        longest = max(map(len, FUNCTIONS))
        for title, names in GROUPS.items():
            with formatter.section(title):
                formatter.write_dl(
                    (f"{name:{longest}}", _short_help(name, formatter.width - 6 - longest))
                    for name in names
                )


def _short_help(name: str, limit: int) -> str:
    """What a command is for, in so many characters; its options are not made for that."""
    return typer.core.TyperCommand(name, help=getdoc(FUNCTIONS[name])).get_short_help_str(limit)


app = typer.Typer(
    name="pincorner",
    cls=Grouped,
    help="Stations on a pin-hole bed: where each jig's program zero is, the setup block that tells "
    "the controller, and the sheet for the person at the machine.\n\nNew here? Go to the machine "
    "with a tape measure and type: pincorner start my-shop. It asks, and needs no reading before.",
    epilog="Start with: pincorner start, or look at pincorner demo. More: pincorner guide",
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
        if arguments[:1] == ["help"]:
            arguments = [*arguments[1:], "--help"]
        result = app(arguments, standalone_mode=False, prog_name="pincorner")
        flush_output()
    except PincornerError as error:
        return _fail(_typed_in_line(str(error), arguments), error.exit_code)
    except typer.TyperException as error:
        return _fail(_usage(error, arguments), 2)
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


def _usage(error: typer.TyperException, arguments: list[str]) -> str:
    """A usage error as one line that says where help is."""
    format_message = getattr(error, "format_message", None)
    message = " ".join((format_message() if format_message else str(error)).split())
    context = getattr(error, "ctx", None)
    named = next((word for word in arguments if word in FUNCTIONS), None)
    path = f"pincorner {named}" if named else "pincorner"
    path = context.command_path if context is not None else path
    quotes = _in_quotes(message, arguments)
    return f"{message.rstrip('.')}{quotes}; see {path} --help" if message else f"see {path} --help"


_EXTRA = re.compile(r"unexpected extra arguments? \((.*)\)|extra argument\(s\) \((.*)\)")


def _in_quotes(message: str, arguments: list[str]) -> str:
    """What to type where a name that has a blank in it came as several words; else nothing."""
    match = _EXTRA.search(message)
    extra = (match[1] or match[2]).split() if match else []
    starts = [at for at in range(2, len(arguments)) if arguments[at : at + len(extra)] == extra]
    if not extra or not starts or arguments[starts[-1] - 1].startswith("-"):
        return ""
    at = starts[-1]
    words = [*arguments[: at - 1], " ".join(arguments[at - 1 : at + len(extra)])]
    line = " ".join(
        f'"{word}"' if " " in word else word for word in [*words, *arguments[at + len(extra) :]]
    )
    return f"; a name with a blank in it stands in quotes: pincorner {line}"


def _typed_in_line(text: str, arguments: list[str]) -> str:
    """A message, with what was typed in one line: a word of the command line may hold line ends."""
    for word in arguments:
        if len(word.splitlines()) > 1 or word.endswith(("\n", "\r")):
            text = text.replace(word, " ".join(word.splitlines()) or "a line end")
    return text


def _fail(text: str, code: int) -> int:
    print_error(text)
    return code
