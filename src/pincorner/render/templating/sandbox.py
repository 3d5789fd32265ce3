"""The rooms that templates run in: nothing of the program is reached, no step makes huge things.

Jinja's immutable sandbox, narrowed: attributes are those of a short list by type, filters too, and
each operation that can make much out of little (`*`, `**`, `%`, `~`, `center`, `replace`, `join`)
is looked at before it is carried out, and so is what is printed; SecurityError tells what was asked
for. A loop may still run for long and repeat output: that is what the process around a shop's own
templates bounds (`shop_templates.py`).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from functools import wraps
from itertools import islice
from typing import Any

from jinja2 import BaseLoader, StrictUndefined, Undefined, nodes, pass_eval_context
from jinja2.environment import TemplateModule
from jinja2.exceptions import SecurityError
from jinja2.filters import FILTERS, make_attrgetter
from jinja2.nodes import EvalContext
from jinja2.runtime import BlockReference, Context, LoopContext, markup_join, str_join
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.utils import Cycler, Namespace
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

LONGEST_TEXT = 5_000_000
"""Characters of a text that a template may put together."""

LONGEST_PRINTED = 20_000_000
"""Characters of a text that it may print: it is given the drawings of beds with 10,000 stations."""

MOST_ITEMS = 100_000
"""Items of a list that a template may make, as many as Jinja's sandbox lets `range` give."""

_WIDEST = 1_000
"""Columns that texts are filled up to, figures after the point, pieces that a list is cut into."""

_MOST_BITS = 1_024


def names(listed: str) -> frozenset[str]:
    """The words of a list."""
    return frozenset(listed.split())


_FOR_LISTS = names(
    "batch count d default dictsort first groupby items join last length list map max min reject "
    "rejectattr reverse select selectattr slice sort unique"
)
_FOR_TEXTS = names(
    "abs capitalize center e escape float forceescape format indent int lower replace round safe "
    "string striptags title trim truncate upper urlencode wordcount wordwrap"
)
"""The filters that there are: of lists, and of single texts and numbers."""

TOGETHER = "~"
"""A name that no template can write."""


@pass_eval_context
def _together(eval_context: EvalContext, values: list[Any]) -> str:
    """Texts put together as Jinja's `~` does, no longer than they may be."""
    _no_longer(sum(len(_text(value)) for value in values))
    return markup_join(values) if eval_context.autoescape else str_join(values)


def _refuse(text: str) -> SecurityError:
    return SecurityError(f"{text}; a template may not")


def _no_longer(length: int, longest: int = LONGEST_TEXT) -> None:
    if length > longest:
        raise _refuse(f"this makes a text of more than {longest:,} characters")


def _no_wider(*numbers: object) -> None:
    for number in numbers:
        if isinstance(number, int | float) and not -_WIDEST <= number <= _WIDEST:
            raise _refuse(f"this asks for {_short(number)}, over {_WIDEST:,}")


def _short(number: object) -> str:
    """A number for a message: how an integer of a thousand digits is written says nothing."""
    return f"{number}" if not isinstance(number, int) or number.bit_length() < 64 else "so much"


def _text(value: Any) -> str:
    """A single text or number as text. Raises SecurityError for a list, however deep it may be."""
    if isinstance(value, str):
        return value
    if isinstance(value, Undefined):
        return str(value)  # raises UndefinedError
    if value is None or isinstance(value, int | float) or hasattr(value, "__html__"):
        return str(value)
    raise _refuse(f"this prints a {type(value).__name__} as a whole, go through it in a loop")


def printed(value: Any) -> Any:
    """What `{{ }}` prints: one text, no longer than it may be."""
    text = value if isinstance(value, str) else _text(value)
    if len(text) > LONGEST_PRINTED:
        _no_longer(len(text), LONGEST_PRINTED)
    return value


def printed_in_one_line(value: Any) -> Any:
    """The same; no value starts a line of its own."""
    return " ".join(value.splitlines()) if isinstance(value, str) else printed(value)


def bounded_range(*numbers: int) -> range:
    """`range`, not too long."""
    found = range(*numbers)
    if found[MOST_ITEMS:]:
        raise _refuse(f"this counts to more than {MOST_ITEMS:,} items")
    return found


def _bound_plus(left: Any, right: Any) -> None:
    if isinstance(left, str) and isinstance(right, str):
        _no_longer(len(left) + len(right))
    elif isinstance(left, list | tuple) and isinstance(right, list | tuple):
        _no_more(len(left) + len(right))


def _no_more(items: int) -> None:
    if items > MOST_ITEMS:
        raise _refuse(f"this makes a list of more than {MOST_ITEMS:,} items")


def _bound_times(left: Any, right: Any) -> None:
    for one, other in ((left, right), (right, left)):
        if isinstance(one, int) and isinstance(other, str):
            _no_longer(len(other) * one)
        elif isinstance(one, int) and isinstance(other, list | tuple):
            _no_more(len(other) * one)
    if isinstance(left, int) and isinstance(right, int):
        _no_larger(left.bit_length() + right.bit_length())


def _no_larger(bits: int) -> None:
    if bits > _MOST_BITS:
        raise _refuse(f"this makes a number of more than {_MOST_BITS:,} binary digits")


def _bound_power(left: Any, right: Any) -> None:
    if isinstance(left, int) and isinstance(right, int):
        _no_larger(max(1, left.bit_length()) * abs(right))


_CONVERSION = re.compile(r"%(?:\([^)]*\))?[-+ #0]*(\*|\d*)(?:\.(\*|\d*))?")


def _bound_percent(left: Any, right: Any) -> None:
    """A text with conversions: each fills up to so many columns, and shows one text or number."""
    if not isinstance(left, str):
        return
    shown = right if isinstance(right, tuple) else (right,)
    if isinstance(right, dict):
        shown = tuple(right.values())
    longest = max((len(_text(each)) for each in shown), default=0)
    conversions = _CONVERSION.findall(left)
    for figures in (figures for pair in conversions for figures in pair):
        if figures == "*" or len(figures) > len(str(_WIDEST)):
            raise _refuse("this fills a text up to more columns than can be told beforehand")
        _no_wider(int(figures or 0))
    _no_longer(len(left) + len(conversions) * (longest + _WIDEST))


BOUNDS = {"+": _bound_plus, "*": _bound_times, "**": _bound_power, "%": _bound_percent}
"""What looks at both sides of an operation beforehand."""


def _format(value: Any, *shown: Any, **named: Any) -> str:
    """`"%s of %s"|format(a, b)`, as Jinja has it."""
    text, right = value if isinstance(value, str) else _text(value), named or shown
    _bound_percent(text, right)
    return text % right


@pass_eval_context
def _join(
    eval_context: EvalContext, value: Iterable[Any], d: str = "", attribute: str | None = None
) -> str:
    """`values|join(", ")`, as Jinja has it."""
    items = list(islice(value, MOST_ITEMS + 1))
    _no_more(len(items))
    if attribute is not None:
        items = list(map(make_attrgetter(eval_context.environment, attribute), items))
    _no_longer(sum(len(_text(item)) for item in items) + len(items) * len(_text(d)))
    return FILTERS["join"](eval_context, items, d)  # type: ignore[no-any-return]


def _bound_replace(text: str, old: str, new: str, *_: Any) -> None:
    pieces = text.count(old) if old else len(text) + 1
    _no_longer(len(text) + pieces * len(new))


def _bound_wordwrap(text: str, *more: Any, wrapstring: str = "\n", **_: Any) -> None:
    between = more[2] if len(more) > 2 else wrapstring
    _no_longer(len(text) * (1 + len(between or "")))


def _bound_indent(text: str, width: Any = 4, *_: Any, **__: Any) -> None:
    _no_longer((text.count("\n") + 1) * (len(width) if isinstance(width, str) else width))


_MADE_MUCH: dict[str, Callable[..., None]] = {
    "replace": _bound_replace,
    "wordwrap": _bound_wordwrap,
    "indent": _bound_indent,
}
"""Filters that repeat a text of the template: bounded by what they would make."""

_COUNTED = frozenset({"batch", "center", "indent", "round", "slice", "wordwrap"})
"""Filters that are given a number of columns, figures or pieces."""


def _bounded(name: str, work: Callable[..., Any]) -> Callable[..., Any]:
    """A filter whose arguments are looked at first, and its result afterwards."""
    own = 1 if hasattr(work, "jinja_pass_arg") else 0

    @wraps(work)
    def bounded(*given: Any, **named: Any) -> Any:
        values = given[own:]
        if name in _FOR_TEXTS:
            values = tuple(each if isinstance(each, bool | int) else _text(each) for each in values)
        if name in _COUNTED:
            _no_wider(*given[own + 1 :], *named.values())
        if name in _MADE_MUCH:
            _MADE_MUCH[name](*values, **named)
        made = work(*given, **named)
        if isinstance(made, str):
            _no_longer(len(made))
        return made

    return bounded


def bounded_filters() -> dict[str, Callable[..., Any]]:
    """The filters that there are, by name."""
    return {
        **{name: _bounded(name, FILTERS[name]) for name in _FOR_LISTS | _FOR_TEXTS},
        "format": _bounded("format", _format),
        "join": _bounded("join", _join),
        TOGETHER: _together,
    }


_TEXT_METHODS = names(
    "capitalize casefold count endswith find index isalnum isalpha isdecimal isdigit islower "
    "isnumeric isspace istitle isupper lower lstrip partition removeprefix removesuffix rfind "
    "rindex rpartition rsplit rstrip split splitlines startswith strip swapcase title upper"
)
_LOOP = names(
    "changed cycle depth depth0 first index index0 last length nextitem previtem revindex revindex0"
)
_ATTRIBUTES: tuple[tuple[type, frozenset[str]], ...] = (
    (Markup, _TEXT_METHODS | {"striptags"}),
    (str, _TEXT_METHODS),
    (dict, frozenset({"get", "items", "keys", "values"})),
    (list, frozenset({"count", "index"})),
    (tuple, frozenset({"count", "index"})),
    (LoopContext, _LOOP),
    (Cycler, frozenset({"current", "next", "reset"})),
    (BlockReference, frozenset({"super"})),
)
"""What may be read of each type; what a namespace or an imported template holds comes too."""


class Sandbox(ImmutableSandboxedEnvironment):
    """An environment for templates that nobody vouches for.

    `one_line`: no value starts a line of its own. Refused operations raise SecurityError.
    """

    intercepted_binops = frozenset({"+", "*", "**", "%"})

    def __init__(self, loader: BaseLoader, *, autoescape: bool, one_line: bool = False) -> None:
        super().__init__(
            loader=loader,
            autoescape=autoescape,
            undefined=StrictUndefined,
            finalize=printed_in_one_line if one_line else printed,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
        )
        del self.globals["lipsum"]
        self.globals["range"] = bounded_range
        self.filters = bounded_filters()

    def _parse(self, source: str, name: str | None, filename: str | None) -> nodes.Template:
        return _BoundTilde().visit(super()._parse(source, name, filename))  # type: ignore[no-any-return]

    def getattr(self, obj: Any, attribute: str) -> Any:
        """What a value holds under a name comes before what its type does by that name."""
        if type(obj) is dict and attribute in obj:
            return obj[attribute]
        return super().getattr(obj, attribute)

    def wrap_str_format(self, value: Any) -> Callable[..., str] | None:
        """Nothing: `format` of a text is no attribute of the list above."""
        return None

    def is_safe_attribute(self, obj: Any, attr: str, value: Any) -> bool:
        """Only what stands in the list."""
        if attr.startswith("_") or not super().is_safe_attribute(obj, attr, value):
            return False
        if isinstance(obj, Namespace | TemplateModule):
            return True
        return any(isinstance(obj, kind) and attr in names for kind, names in _ATTRIBUTES)

    def call_binop(self, context: Context, operator: str, left: Any, right: Any) -> Any:
        """An operation whose result is bounded beforehand."""
        BOUNDS[operator](left, right)
        return super().call_binop(context, operator, left, right)


class _BoundTilde(NodeTransformer):
    """`a ~ b` cannot be intercepted as the other operations are: it becomes a filter."""

    def visit_Concat(self, node: nodes.Concat) -> nodes.Filter:  # noqa: N802 - Jinja's name
        self.generic_visit(node)
        place = {"lineno": node.lineno, "environment": node.environment}
        whole = nodes.List(node.nodes, **place)
        return nodes.Filter(whole, TOGETHER, [], [], None, None, **place)
