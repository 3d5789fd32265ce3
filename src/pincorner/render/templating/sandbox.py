"""The rooms that templates run in: nothing of the program is reached, no step makes huge things.

Jinja's immutable sandbox, narrowed: attributes are those of a short list by type, filters too, and
each operation that can make much out of little (`*`, `**`, `%`, `~`, `center`, `replace`, `join`)
is bounded before it is carried out (`sandbox_bounds.py`). A loop may still run for long and repeat
output: that is what the process around a shop's own templates bounds (`shop_templates.py`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from jinja2 import BaseLoader, StrictUndefined, nodes
from jinja2.environment import TemplateModule
from jinja2.runtime import BlockReference, Context, LoopContext
from jinja2.sandbox import ImmutableSandboxedEnvironment
from jinja2.utils import Cycler, Namespace
from jinja2.visitor import NodeTransformer
from markupsafe import Markup

from pincorner.render.templating.sandbox_bounds import (
    BOUNDS,
    TOGETHER,
    bounded_filters,
    bounded_range,
    names,
    printed,
    printed_in_one_line,
)

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
