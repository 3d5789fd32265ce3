"""The types that document fields are made of.

Lengths become millimetres here, the one place where a `units` line counts: validators find it in
their context, `{"units": "mm"}`. A file's scalars are `Plain` without quotes, `str` with them.
"""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from typing import Annotated, Any, NamedTuple, Self

from pydantic import BaseModel, ConfigDict, ValidationInfo
from pydantic_core import CoreSchema, core_schema

from pincorner.units import LARGEST_MM, Unit, in_unit, length_mm, parse_length


class Plain(str):
    """A scalar of a file that stood without quotes, as its text."""

    __slots__ = ()


class Document(BaseModel):
    """Base of all documents and their parts: frozen, and no key that is not known."""

    model_config = ConfigDict(frozen=True, extra="forbid", defer_build=True, title=None)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """A copy with some keys changed, without what was worked out from the old ones."""
        copied = super().model_copy(update=update, deep=deep)
        for cached in copied.__dict__.keys() - type(self).model_fields.keys():
            del copied.__dict__[cached]
        return copied


class Scalar:
    """How a single value is read: in `Annotated`, behind the type that `read` makes.

    `read`: makes it of what stands in a file, or raises ValueError. `shown`: its JSON Schema.
    `of_length`: `read` is given the context as well, for the file's units. What pydantic has for
    this, a validator around a type with a schema around both, takes five times as long to be made
    for each field, at every start.
    """

    def __init__(
        self, read: Callable[..., Any], shown: dict[str, Any], *, of_length: bool = False
    ) -> None:
        self.read, self.shown, self.of_length = read, shown, of_length

    def __get_pydantic_core_schema__(self, _type: Any, _handler: Any) -> CoreSchema:
        if self.of_length:
            return core_schema.with_info_plain_validator_function(self.read)
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return self.shown.copy()


_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_NOT_FINITE = re.compile(r"[-+]?\.(inf|nan)", re.IGNORECASE)


def number(value: Any) -> float:
    """A finite number from JSON or from a plain scalar; ValueError otherwise."""
    if isinstance(value, Plain):
        if _NOT_FINITE.fullmatch(value):
            raise ValueError(f"expected a finite number, got {value}")
        if not _NUMBER.fullmatch(value):
            raise ValueError(f"expected a number, got {value!r}")
        value = float(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ValueError(f"expected a number, got {shown(value)}")
    try:
        found = float(value)
    except OverflowError:  # a whole number of more than 308 digits
        found = math.inf
    if not math.isfinite(found):
        raise ValueError(f"expected a finite number, got {found}")
    return found


def shown(value: Any) -> str:
    """What stands in a file in a value's place, for messages."""
    if isinstance(value, dict):
        return "keys and values"
    if isinstance(value, list | tuple):
        return f"a list of {len(value)}"
    return "nothing" if value is None else repr(str(value))


def length(value: Any, info: ValidationInfo) -> float:
    """A length in mm, from text with its unit or a number in the file's units; ValueError."""
    if type(value) is float and -LARGEST_MM <= value <= LARGEST_MM and info.context == _IN_MM:
        return value
    units: Unit | None = info.context["units"] if info.context else "mm"
    if isinstance(value, str) and (not isinstance(value, Plain) or not _looks_bare(value)):
        of_fraction = units if "/" in value else None
        if units is None and _BARE.fullmatch(value):
            raise NoUnits
        return parse_length(value, of_fraction, units or "in")
    if units is None:
        if number(value) == 0:
            return 0.0
        raise NoUnits
    return length_mm(number(value), units)


class NoUnits(ValueError):
    """A bare length in a file that does not say its unit, in a shop that works in inches."""

    def __init__(self) -> None:
        super().__init__(
            "this shop works in inches and the file does not say its unit: say units: in, or "
            "units: mm, below format:"
        )


_BARE = re.compile(r"[-+ 0-9./]+")


_IN_MM = {"units": "mm"}


def _looks_bare(text: str) -> bool:
    return bool(_NUMBER.fullmatch(text) or _NOT_FINITE.fullmatch(text))


def _positive(value: float) -> float:
    if value <= 0:
        raise ValueError(f"expected a size above 0, got {value:g}")
    return value


def unit_told(info: ValidationInfo) -> Unit:
    """The unit for messages about a file's lengths: its own, else inches, since a file has to say
    its unit only in a shop that works in inches."""
    return "in" if (info.context or _IN_MM)["units"] != "mm" else "mm"


def length_got(value_mm: float, info: ValidationInfo) -> str:
    """A length as its file has it, for messages."""
    return f"{in_unit(value_mm, unit_told(info)):g}"


def _size(stated: Any, info: ValidationInfo) -> float:
    value = length(stated, info)
    return check_size(value, length_got(value, info))


def check_size(value_mm: float, got: str) -> float:
    """The size itself, which arithmetic can divide by: nothing that is made is smaller than a
    nanometre. ValueError, with what was `got` in its own words."""
    if not value_mm > 0:
        raise ValueError(f"expected a size above 0, got {got}")
    if value_mm < 1e-6:
        raise ValueError(f"expected a size above a nanometre, got {got}")
    return value_mm


def _not_negative(stated: Any, info: ValidationInfo) -> float:
    value = length(stated, info)
    if value < 0:
        raise ValueError(f"expected 0 or more, got {length_got(value, info)}")
    return value


def _whole(value: Any) -> int:
    result = number(value)
    if not result.is_integer():
        raise ValueError(f"expected a whole number, got {result:g}")
    return int(result)


def _count(stated: Any) -> int:
    value = _whole(stated)
    if not 1 <= value <= 500:
        raise ValueError(f"expected 1 to 500, got {value}")
    return value


_LENGTH_SCHEMA: dict[str, Any] = {
    "description": "a number or a fraction in the file's units, or text with its unit: 82.5, 3/8, "
    "82.5 mm, 3 1/4 in",
    "anyOf": [
        {"type": "number", "minimum": -LARGEST_MM, "maximum": LARGEST_MM},
        {
            "type": "string",
            "pattern": r"^\s*[-+]?([0-9./ ]+([eE]-[0-9]+)?\s*(mm|in)|([0-9]+ +)?[0-9]+/[0-9]+)\s*$",
        },
    ],
}

_SIZE_SCHEMA: dict[str, Any] = {
    **_LENGTH_SCHEMA,
    "anyOf": [
        {"type": "number", "exclusiveMinimum": 0, "maximum": LARGEST_MM},
        _LENGTH_SCHEMA["anyOf"][1],
    ],
}

Length = Annotated[float, Scalar(length, _LENGTH_SCHEMA, of_length=True)]
Size = Annotated[float, Scalar(_size, _SIZE_SCHEMA, of_length=True)]
LengthFromZero = Annotated[float, Scalar(_not_negative, _LENGTH_SCHEMA, of_length=True)]
Number = Annotated[float, Scalar(number, {"type": "number"})]
Whole = Annotated[int, Scalar(_whole, {"type": "integer"})]
Count = Annotated[int, Scalar(_count, {"type": "integer", "minimum": 1, "maximum": 500})]
Angle = Annotated[float, Scalar(number, {"type": "number", "description": "degrees, ccw"})]

Point = tuple[Length, Length]
StockSize = tuple[Size, Size, Size]


_TRUTH = {"true": True, "yes": True, "on": True, "false": False, "no": False, "off": False}


def _flag(value: Any) -> bool:
    if isinstance(value, bool):
        return value
    if isinstance(value, Plain) and value.lower() in _TRUTH:
        return _TRUTH[value.lower()]
    raise ValueError(f"expected true or false, got {shown(value)}")


Flag = Annotated[bool, Scalar(_flag, {"type": "boolean"})]


_SIMPLE_NAME = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 _+.-]{0,62}[A-Za-z0-9_+-])?")
_NAME_RULE = "letters, digits, space and - _ . +"


def check_name(value: Any) -> str:
    """A name as the registry keeps it (NFC); ValueError tells the rule that it breaks."""
    if type(value) is str and _SIMPLE_NAME.fullmatch(value):
        return value
    text = unicodedata.normalize("NFC", _text(value))
    if not 1 <= len(text) <= 64:
        raise ValueError(f"expected a name of 1 to 64 characters, got {len(text)}")
    for character in text:
        category = unicodedata.category(character)
        if character not in " -_.+" and category[0] not in "LM" and category != "Nd":
            raise ValueError(f"a name is made of {_NAME_RULE}, not {character!r}")
    if text[0] in " ." or text[-1] in " .":
        raise ValueError("a name does not start or end with a space or a dot")
    if not any(character.isalnum() for character in text):
        raise ValueError("a name holds at least one letter or digit")
    return text


def _text(value: Any) -> str:
    if isinstance(value, bool | int | float):
        value = str(value)
    if not isinstance(value, str):
        raise ValueError(f"expected text, got {shown(value)}")
    return str(value)


def key_of(name: str) -> str:
    """What two names of a kind must not share: case and composition do not count."""
    folded = name.casefold()
    return folded if folded.isascii() else unicodedata.normalize("NFC", folded)


def twice(names: Iterable[str]) -> list[str]:
    """Of names that must differ, those that others share, each once as it stands there first."""
    seen: dict[str, str] = {}
    shared: dict[str, str] = {}
    for name in names:
        first = seen.setdefault(key_of(name), name)
        if first is not name:
            shared.setdefault(key_of(name), first)
    return list(shared.values())


Name = Annotated[
    str,
    Scalar(
        check_name,
        {
            "type": ["string", "number", "boolean"],  # a scalar is taken as its text
            "minLength": 1,
            "maxLength": 64,
            "description": _NAME_RULE,
        },
    ),
]


class Same:
    """A document as a key of what was made of it: the very object, not one with equal keys.

    Thousands of stations share a jig; to compare or hash all it holds costs more than is saved.
    """

    __slots__ = ("it",)

    def __init__(self, it: Any) -> None:
        self.it = it

    def __hash__(self) -> int:
        return id(self.it)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Same) and other.it is self.it


class WholeDocument(Document):
    """Base of whole documents: what the registry keeps under a name of its kind."""

    name: Name
    """its name"""


class Disagreement(NamedTuple):
    """What some keys of a document do not do together; `text` may begin with the one to look at."""

    keys: tuple[str, ...]
    text: str


class Disagreements(ValueError):
    """All that keys of a document do not do together."""

    def __init__(self, found: tuple[Disagreement, ...]) -> None:
        self.found = found
        super().__init__("; ".join(each.text for each in found))


def agree(found: Iterable[Disagreement]) -> None:
    """Raises Disagreements where any is found."""
    every = tuple(found)
    if every:
        raise Disagreements(every)


def check_note(value: Any) -> str:
    """A note as the registry keeps it; ValueError tells the rule that it breaks."""
    text = _text(value)
    if len(text) > 2000:
        raise ValueError(f"expected at most 2,000 characters, got {len(text)}")
    if text.isprintable():
        return text
    for character in text:
        if unicodedata.category(character) in ("Cc", "Cs") and character not in "\t\n":
            raise ValueError(f"a note holds no control character such as {character!r}")
    return text


Note = Annotated[
    str, Scalar(check_note, {"type": ["string", "number", "boolean"], "maxLength": 2000})
]


_GRID_LABEL = re.compile(r"[A-Za-z]+[1-9][0-9]*")


def _label(value: Any) -> str:
    text = check_name(value)
    return text.upper() if _GRID_LABEL.fullmatch(text) else text


Label = Annotated[str, Scalar(_label, {"type": "string"})]
"""A hole's label, in capitals, or the name of an extra hole; unique without regard to case."""


_CODE = re.compile(r"G5[4-9]|G59\.[123]|G54\.1 P[1-9][0-9]{0,2}")


def check_code(value: Any) -> str:
    """A work-offset code written the one way we print it: `G54`, `G59.1`, `G54.1 P7`."""
    text = re.sub(r"\s*P\s*", " P", " ".join(_text(value).upper().split()))
    if not _CODE.fullmatch(text):
        got = _text(value)
        raise ValueError(f"expected a work offset such as G54, G59.1 or G54.1 P7, got {got!r}")
    return text


Code = Annotated[str, Scalar(check_code, {"type": "string"})]


def _path(value: Any) -> str:
    text = check_note(value)
    if not text.strip() or "\n" in text or "\t" in text:
        raise ValueError("expected the name of a file")
    if "\\" in text:
        raise ValueError(f"write / between folders, not \\: {text!r}")
    if text.startswith("/") or re.match(r"[A-Za-z]:", text):
        raise ValueError(f"expected a path relative to the shop folder, got {text!r}")
    return text


FilePath = Annotated[str, Scalar(_path, {"type": "string"})]

_CLOCK = re.compile(r"([0-9]{1,5}):([0-5][0-9](?:\.[0-9]+)?)")
_AMOUNT = r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+) ?"
_IN_UNITS = re.compile(
    rf"(?:{_AMOUNT}(?:h|hrs?|hours?))? ?(?:{_AMOUNT}(?:min|mins|minutes?))? ?"
    rf"(?:{_AMOUNT}(?:s|secs?|seconds?))?",
    re.IGNORECASE,
)
_SECONDS = (3600, 60, 1)


def _duration(value: Any) -> float:
    """Seconds from a number, or from text: `260`, `4:20`, `260 s`, `3 min`, `1 h 30 min`."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _positive(number(value))
    text = _text(value).strip()
    if _NUMBER.fullmatch(text) and text[0] not in "+-":
        return _positive(number(Plain(text)))
    if match := _CLOCK.fullmatch(text):
        return _positive(int(match[1]) * 60 + float(match[2]))
    match = _IN_UNITS.fullmatch(text) if text else None
    if match is None:
        raise ValueError(f"expected a time such as 4:20, 260, 260 s or 3 min, got {text!r}")
    amounts = ((amount, each) for amount, each in zip(match.groups(), _SECONDS, strict=True))
    return _positive(number(sum(float(amount) * each for amount, each in amounts if amount)))


Duration = Annotated[
    float,
    Scalar(
        _duration,
        {
            "description": "minutes:seconds, seconds, or with units: 4:20, 260, 260 s, 3 min, 1 h",
            "type": ["number", "string"],
        },
    ),
]

_PERCENT = re.compile(r"([0-9]+(?:\.[0-9]*)?|\.[0-9]+) ?%")


def _factor(value: Any) -> float:
    percent = _PERCENT.fullmatch(value.strip()) if isinstance(value, str) else None
    if percent is not None:
        return _positive(float(percent[1]) / 100)
    try:
        return _positive(number(value))
    except ValueError:
        raise ValueError(f"expected a factor such as 1.2 or 120 %, got {shown(value)}") from None


Factor = Annotated[
    float,
    Scalar(_factor, {"description": "1.2, or 120 %", "type": ["number", "string"]}),
]
