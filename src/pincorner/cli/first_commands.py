"""Commands of the first hour: a shop set up by questions, and documents to begin with."""

from __future__ import annotations

import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pincorner.cli.options import (
    By,
    Json,
    Note,
    StockZero,
    Yes,
    display_unit,
    length_from,
    ways_from,
)
from pincorner.cli.printing import (
    ask_line,
    is_dialogue,
    person,
    print_error,
    print_made,
    print_text,
)
from pincorner.errors import BadInput, Refused

if TYPE_CHECKING:
    from pincorner.units import Unit
    from pincorner.work.first.asked.question import Question
    from pincorner.work.first.asked.typed import Said
    from pincorner.work.first.walk import Begun, Walk

# The modules that do the work are imported inside each command: --help needs none of them.

_WIDTH = 78
_TIED = "\x1f"
"""A blank at which no line is broken."""


def commands() -> dict[str, Callable[..., Any]]:
    """These commands by name."""
    return {
        "start": start,
        "example": example,
        "edit": edit,
        "adopt": adopt,
    }


def start(
    ctx: typer.Context,
    folder: Annotated[Path, typer.Argument(help="The shop folder; made if it is new.")] = Path(),
    answer: Annotated[
        list[str] | None,
        typer.Option("--answer", metavar="KEY=TEXT", help="An answer; repeatable."),
    ] = None,
    answers: Annotated[
        Path | None,
        typer.Option("--answers", metavar="FILE", help="A file of answers, a line each."),
    ] = None,
    yes: Annotated[
        bool, typer.Option("--yes", help="Take the default for all that is not answered.")
    ] = False,
    page: Annotated[
        bool, typer.Option("--page/--no-page", help="Show the bed's map in a browser at the end.")
    ] = True,
    by: By = None,
) -> None:
    """Set up a shop by questions, up to its first setup sheet.

    Each question has a default for Enter; ? tells more, back goes back, quit keeps what was
    answered. The answers end as commented documents in the shop folder.

    Example:  pincorner start my-shop
    """
    from pincorner.work.first.walk import answers_in, finish, open_walk

    given = {} if answers is None else answers_in(answers)[0]
    for text in answer or ():
        key, sign, said = text.partition("=")
        if not sign:
            raise BadInput(f"--answer: expected KEY=TEXT, such as units=in; got {text!r}")
        given[key.strip()] = said.strip()
    walk = open_walk(folder, ctx.obj, given)
    try:
        if yes:
            walk.default_all()
        elif not _ask_all(walk):
            is_kept = walk.given or walk.earlier
            kept = "What was answered is kept in" if is_kept else "Nothing was answered yet:"
            where = f"{kept} {walk.file}; go on" if is_kept else f"{kept} begin"
            print_text(f"{where} with: {_again(walk)}\n")
            return
    except KeyboardInterrupt:
        kept = (
            "nothing is written"
            if yes
            else f"what was answered is kept, go on with: {_again(walk)}"
        )
        print_error(f"stopped; {kept}")
        raise typer.Exit(130) from None
    begun = finish(walk, by)
    _tell_the_end(walk, begun)
    if page and is_dialogue():
        from pincorner.work.files.browser import show_page

        show_page(begun.map)


def example(
    ctx: typer.Context,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Its kind, such as station.")],
    units: Annotated[
        str | None, typer.Option("--units", metavar="mm|in", help="The shop's, if left out.")
    ] = None,
) -> None:
    """Print a whole commented document of a kind, to change and load.

    It names what the registry holds today.

    Example:  pincorner example station > second.yaml
    """
    from pincorner.documents.kinds import kind_named
    from pincorner.errors import RegistryMissing
    from pincorner.work.first.examples import example as work
    from pincorner.work.session import open_session

    word = kind_named(kind)
    if units not in (None, "mm", "in"):
        raise BadInput(f"--units: expected mm or in, got {units}")
    unit: Unit | None = None if units is None else "in" if units == "in" else "mm"
    try:
        session = open_session(ctx.obj, "example")
    except RegistryMissing:
        session = None
    print_text(work(session, word, unit))


def edit(
    ctx: typer.Context,
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Its kind, such as station.")],
    name: Annotated[str, typer.Argument(metavar="NAME", help="Its name.")],
    note: Note = None,
    by: By = None,
    yes: Yes = False,
) -> None:
    """Edit a document, with comments, and load it when it is saved.

    All or nothing: what is wrong stands beside its line, and the text is kept. The editor is
    that of VISUAL or EDITOR, else the system's.

    Example:  pincorner edit station left
    """
    from pincorner.documents.kinds import kind_named
    from pincorner.render.text.reports import load_text
    from pincorner.work.first.editing import edit as work
    from pincorner.work.first.editing import editor_of_theirs
    from pincorner.work.session import open_session

    word = kind_named(kind)
    session = open_session(ctx.obj, "edit", by, note, person(yes))
    edited = work(session, word, name, editor_of_theirs(is_dialogue()))
    if edited.loaded is None:
        print_text("nothing was changed\n")
        return
    summary, chosen, warnings = edited.loaded
    kinds = (summary.added, summary.changed, summary.same)
    print_text(load_text(*kinds, chosen, warnings, False))
    if edited.file is not None:
        print_text(f"{edited.file} says the same\n")
    if edited.otherwise is not None:
        print_text(
            f"{edited.otherwise} was left as it is and says otherwise: loading it would put that "
            "back\n"
        )
    if edited.before is not None:
        print_text(f"{word} {edited.before} stays: pincorner retire takes it out of use\n")


def adopt(
    ctx: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The offsets, as CSV.")],
    bed: Annotated[str, typer.Option("--bed", metavar="B", help="The bed.")],
    pin: Annotated[
        str | None,
        typer.Option("--pin", metavar="P", help="The pins to look at; left out: the bed's usual."),
    ] = None,
    within: Annotated[
        str,
        typer.Option("--within", metavar="D", help="How far off pins may be that explain one."),
    ] = "1 mm",
    units: Annotated[
        str | None,
        typer.Option("--units", metavar="mm|in", help="Unit of bare numbers; else the shop's."),
    ] = None,
    jig: Annotated[
        str | None, typer.Option("--jig", metavar="J", help="The jig of lines that name none.")
    ] = None,
    stock: Annotated[
        str | None, typer.Option("--stock", metavar="L,W,T", help="Bare stock of such lines.")
    ] = None,
    stock_zero: StockZero = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Check all, write nothing.")] = False,
    note: Note = None,
    by: By = None,
    yes: Yes = False,
    json: Json = False,
) -> None:
    """Take over offsets that were written down. They become stations "as measured".

    The file has a header: station,code,x,y,z,jig,nest,turn,date,by,note; bare stock stands under
    jig as 400 x 250 x 18, with zero_x,zero_y where its zero is not its front left corner. For
    each the pin corner is told that explains it best, and the command that lays the station
    against it.

    Example:  pincorner adopt offsets.csv --bed long-bench --dry-run
    """
    from pincorner.render.text.tables import table
    from pincorner.work.first.adopting import HEADS, cells, entries, looked_at, sentences, take_over
    from pincorner.work.session import open_session

    if units not in (None, "mm", "in"):
        raise BadInput(f"--units: expected mm or in, got {units}")
    session = open_session(ctx.obj, "adopt", by, note, person(yes))
    within_mm = length_from("--within", within, display_unit(session))
    unit: Unit | None = None if units is None else "in" if units == "in" else "mm"
    if stock_zero is not None and stock is None:
        raise BadInput("--stock-zero: it goes with --stock; a file has columns zero_x and zero_y")
    zero = None if stock_zero is None else ways_from("--stock-zero", stock_zero)
    without = _without_jig(file, jig, stock)
    adopted = looked_at(session, file, bed, pin, within_mm, unit, without, zero)
    if not json:
        print_text(table(HEADS, list(cells(adopted)), "...rrr"))
        if any(row.written.z_mm is not None for row in adopted.rows):
            print_text("Z is a note alone: it belongs to the tool of that day\n")
        print_text("\n" + "".join(f"{line}\n" for line in sentences(adopted)) + "\n")
    entered = take_over(session, adopted, dry_run=dry_run)
    warnings = [*adopted.taken(), *adopted.turned_otherwise(), *entered.warnings]
    if json:
        became = entered.new, entered.changed, entered.same
        print_made("adopt", entries(adopted), adopted.pin, within_mm, became, warnings, dry_run)
        return
    print_text("".join(f"warning: {text}\n" for text in warnings))
    new, changed, same = (len(names) for names in entered[:3])
    how = ", but nothing was written" if dry_run else ""
    print_text(f"stations as measured: {new} new, {changed} changed, {same} as before{how}\n")


def _without_jig(file: Path, jig: str | None, stock: str | None) -> str | None:
    """What lies there in lines of a file that say neither jig nor stock: by the options, or asked
    at a terminal; None where there is nobody to ask, or no such line."""
    from pincorner.documents.reading import text_of
    from pincorner.work.first.written_down import lines_without_jig

    if jig and stock:
        raise BadInput("--jig or --stock: a line has one of them")
    if jig or stock:
        return jig or " x ".join((stock or "").split(","))
    lines = lines_without_jig(text_of(file)) if is_dialogue() else 0
    if not lines:
        return None
    told = "1 line says" if lines == 1 else f"{lines} lines say"
    said = ask_line(
        f"{told} neither jig nor stock: what lies there? A jig's name, or stock as "
        "400 x 250 x 18 > "
    )
    return (said or "").strip() or None


def _again(walk: Walk) -> str:
    return f"pincorner start {walk.folder}" if str(walk.folder) != "." else "pincorner start"


_BEGIN = """Enter takes what stands in brackets. ? tells more, back goes back, quit keeps all.
"""


def _ask_all(walk: Walk) -> bool:
    """Ask until the end; whether documents are to be written."""
    from pincorner.work.first.questions import WRITE, part_of

    walk.go_on()
    again = walk.asked_anew
    question, shown, asked, part, goes_back = walk.next(), "", "", "", False
    if walk.given:
        walk.keep()
    print_text(_BEGIN)
    if walk.said.texts:
        print_text(f"{len(walk.said.texts)} answers of before are taken; back goes back to them.\n")
    if len(again) > 1:
        print_text(
            _wrapped("! ", f"these answers cannot be taken, and are asked for: {', '.join(again)}")
        )
    if walk.printed and question is not WRITE:
        first, more = walk.printed[0], len(walk.printed) - 1
        print_text(
            f"Most answers now change the setup: {first}{f' and {more} more' if more else ''} "
            "will be void then, and to be printed anew.\n"
        )
    while True:
        drawn = walk.picture
        if drawn and ((drawn != shown and not goes_back) or question.key == "corner" != asked):
            shown = drawn
            print_text(f"\n{shown}")
        if walk.wrong:
            print_text(f"! {walk.wrong}\n")
        if (here := part_of(question)) not in ("", part):
            print_text(f"\n{here}\n")
            part = here
        text = ask_line(_prompt(walk, question, question.key != asked))
        asked = question.key
        word = (text or "").strip().lower()
        if text is None:
            raise BadInput(
                f"the input ended before {question.key} was answered; what was answered is kept, "
                f"go on with: {_again(walk)}"
            )
        if word in ("quit", "exit", "stop"):
            return False
        if word in ("?", "help"):
            lines = textwrap.wrap(question.told_help(walk.said), _WIDTH - 2)
            print_text("".join(f"  {line}\n" for line in lines))
            continue
        to = _way_back(word)
        goes_back = to is not None
        if to is not None:
            _go_back(walk, to)
        elif question is WRITE and (ends := _ends(walk, text)) is not None:
            return ends
        elif question is not WRITE:
            _take(walk, question, text)
        question = walk.next()


def _ends(walk: Walk, text: str) -> bool | None:
    """Whether all is to be written, as the last question asks; None where that is not clear."""
    from pincorner.work.first.questions import WRITE

    try:
        return bool(WRITE.answer(text.strip() or "yes", walk.said).value == "yes")
    except ValueError as error:
        print_text(_wrapped("! ", f"{error}"))
        return None


def _way_back(word: str) -> str | None:
    """The question that somebody wants to go back to; empty for the one before, None for none."""
    from pincorner.work.first.questions import QUESTIONS

    if word in ("back", "go back"):
        return ""
    named = word.removeprefix("go ").removeprefix("back ").removeprefix("to ").strip()
    key = named.removeprefix("the ")
    return key if word != named and any(key == each.key for each in QUESTIONS) else None


def _go_back(walk: Walk, to: str) -> None:
    """Go back to the question before, or to the one that is named."""
    if not walk.back(to or None):
        told = f"{to} was not answered yet" if to else "this is the first question"
        print_text(f"  {told}\n")


def _take(walk: Walk, question: Question, text: str) -> None:
    """Give an answer, or Enter; tell what is wrong or odd about it, or how it was understood."""
    from pincorner.work.first.asked.typed import Asks

    answer = text.strip() or walk.default(question)
    if not answer:
        print_text("! Enter takes nothing here; ? tells more, quit keeps what was answered\n")
        return
    was_asked = walk.offer is not None
    try:
        walk.give(question, answer)
    except Asks as asks:
        offers = _shown(walk, question, asks.offers)
        print_text(_wrapped("? ", f"{asks}. Enter takes {offers}"))
        return
    except (ValueError, Refused) as error:
        print_text(_wrapped("! ", f"{error}"))
        return
    if text.strip() or was_asked or walk.heard.startswith("not known: "):
        _tell_heard(walk)


def _tell_heard(walk: Walk) -> None:
    """Tell how an answer was understood."""
    if walk.heard:
        print_text(_wrapped("  = ", walk.heard))


def _wrapped(lead: str, text: str) -> str:
    """A sentence in lines of a terminal's width."""
    width = _WIDTH - len(lead)
    lines = [line for each in text.split("\n") for line in textwrap.wrap(each, width)] or [""]
    return "".join(
        f"{lead if not at else ' ' * len(lead)}{line}\n" for at, line in enumerate(lines)
    )


def lines_of(question: Question, said: Said) -> list[str]:
    """A question's words and the answers that there are, in lines: three at most."""
    words = textwrap.wrap(question.told_words(said), _WIDTH)
    return words + _listed(question, said)


def _listed(question: Question, said: Said) -> list[str]:
    """The answers that there are, numbered, none of them broken."""
    options = question.listed(said)
    if question.key == "controller" or not options:  # its blocks are shown
        return []
    told = [
        f"{n} {shown}" + (f": {each.means}" if each.means and each.means != shown else "")
        for n, each in enumerate(options, 1)
        for shown in [question.shown(each.word, said)]
    ]
    kept = "   ".join(each.replace(" ", _TIED) for each in told)
    lines = textwrap.wrap(kept, _WIDTH - 2, break_long_words=False, break_on_hyphens=False)
    return [f"  {line.replace(_TIED, ' ')}" for line in lines]


def _prompt(walk: Walk, question: Question, is_new: bool) -> str:
    """What stands in front of an answer: the part, the words, the default; the words once."""
    default = _shown(walk, question, walk.default(question))
    asks = f"  [{default}] > " if default else "  > "
    if not is_new:
        return asks
    lines = []
    if question.key == "controller":
        for number, each in enumerate(walk.blocks(), 1):
            first, *more = each.lines or ("",)
            lines.append(f"  {number} {each.tells + ':':28} {first}")
            lines += [f"{'':32}{line}" for line in more]
    lines += lines_of(question, walk.said)
    return "\n" + "\n".join(lines) + f"\n{asks}"


def _shown(walk: Walk, question: Question, default: str | None) -> str | None:
    """A default as it stands in brackets."""
    return None if default is None else question.shown(default, walk.said)


_FIGURES = "type the X and Y of the sheet"
_SUMS = (
    "read X and Y of G54, set as the sheet says, add the sheet's figures to them, and type the "
    "sums, never these figures alone,"
)
_Z_BOX = (
    "No figure of the sheet goes into its box for Z: whoever runs the program touches off with "
    "the tool of the day on the height that the sheet names as Z zero, and has the panel take Z "
    "from there."
)


def _what_is_left(walk: Walk) -> str:
    """What `start` asks for when it is called again; nothing where all was said."""
    from pincorner.work.first.asked.question import is_short

    if is_short(walk.said):
        return "what is left: travel, reach, nose, clamps"
    return "what was not known today, once it is" if walk.left_out else ""


def _tell_the_end(walk: Walk, begun: Begun) -> None:
    """What was written, what was left out, and what to do next."""
    from pincorner.characters import quoted as in_quotes
    from pincorner.program.check.sentences import tool_option
    from pincorner.render.text.offsets import offsets_told
    from pincorner.work.first.asked.bed import as_read_note

    setup = begun.setups[0]
    print_text("\n")
    for doubt in walk.odd:
        print_text(f"taken as it was said: {doubt}\n")
    if note := as_read_note(walk.said):
        print_text(f"taken as it was read: of the bed, {note}\n")
    if walk.left_out:
        print_text(f"not known, and left out of the documents: {', '.join(walk.left_out)}\n")
    for line in walk.unused:
        print_text(f"not used: {line}\n")
    if begun.files:
        names = ", ".join(file.name for file in begun.files)
        print_text(f"wrote {begun.files[0].parent}: {names}\n")
    for file in begun.left:
        print_text(f"{file} is not loaded: its document was changed in the registry since\n")
    print_text(offsets_told(begun.setups))
    no_block = list(dict.fromkeys(why.told for each in begun.setups for why in each.no_block))
    for told in no_block:
        print_text(f"no block yet: {told}\n")
    name = setup.facts.station.name
    quoted = in_quotes(name)
    is_keyed = any(word.by_hand for word in setup.printed.words if word.axis in "XY")
    block = "the figures to key in" if is_keyed else "the lines that tell the controller"
    for warning in (*begun.loaded.warnings, *begun.void):
        print_text(f"warning: {warning}\n")
    sheet = f"The first setup sheet is {begun.sheets[0]}: open it in a browser and print it."
    if begun.again:
        sheet += " Throw away what was printed before, unless it says the same setup."
    if no_block:
        sheet = (
            f"NO BLOCK: {begun.sheets[0]} is a sheet without one, which tells why. Mend that first "
            f"(pincorner start {walk.folder}, and back), and print it then."
        )
    print_text(f"\n{sheet}\nThe bed with its stations is {begun.map}.\n\nNext:\n")
    if str(walk.folder) != ".":
        print_text(f"  cd {walk.folder}\n")
    tool = tool_option(1, walk.said.unit)
    print_text("  pincorner guide cautions           before the machine moves\n")
    if not no_block:
        print_text(f"  pincorner block {quoted} -o FILE   {block}, into a file\n")
    print_text(
        f"  pincorner check FILE.nc --station {quoted} {tool}   read a program against it\n"
        f"  pincorner register NAME --like {quoted} --corner HOLE   another station like it\n"
        "  pincorner register --help          the next station\n"
    )
    if left := _what_is_left(walk):
        print_text(f"  pincorner start                    {left}\n")
    if is_keyed and not no_block:
        is_sum = any(word.by_hand and word.counts_from for word in setup.printed.words)
        figures = _SUMS if is_sum else _FIGURES
        codes = ", ".join(each.code_or_nest for each in begun.setups)
        codes += ", each piece's into its own" if len(begun.setups) > 1 else ""
        print_text("\n" + _wrapped("", f"On the panel: {figures} into {codes}. {_Z_BOX}"))
