"""Several questions asked in one: what of an answer belongs to which of them.

Each reader gives the parts of an answer by the keys of their questions, as texts that those read.
What it does not find is asked by itself, or counts as usual. It raises `OneByOne` where somebody
wants them one at a time, or where nothing was found.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

from pincorner.work.first.plain import (
    HEDGES,
    NOTS,
    OneByOne,
    Unclear,
    cleaned,
    in_axes,
    is_not_known,
    with_figures,
    words_of,
)
from pincorner.work.first.typed import (
    ALONG_WORDS,
    LENGTH,
    Reader,
    Said,
    amounts,
    class_in,
    clauses,
    counts,
)

Parts = Mapping[str, str]

_AGREEING = """
yes y yeah yep yup sure right correct true ok okay good fine usual as so all same agreed they are is
leave keep please
"""
_DIFFERING = "differ different differs ask each now change one at time otherwise"
_YES, _NO = frozenset(_AGREEING.split()), NOTS | frozenset(_DIFFERING.split())


def agrees(text: str) -> bool | None:
    """Whether what is usual is taken, or is not; None where something else is said."""
    words = set(words_of(cleaned(text).rstrip(".?!"))) - (HEDGES - {"as", "so"})
    if not words or words <= _YES:
        return True
    return False if words <= _NO else None


# ---- units, travel -------------------------------------------------------------------------------

_OF_THE_MACHINE = re.compile(
    r"\b(?:read-?\s?out|controller|machine|display|screen|shows?|dro|control)\b"
)


def units(text: str, said: Said) -> Parts:
    """The unit that is measured in, and the read-out's where it is told apart."""
    own: list[str] = []
    shown: list[str] = []
    for part in re.split(r"[,;]|\bbut\b|\band\b", cleaned(text)):
        (shown if _OF_THE_MACHINE.search(part) else own).append(part)
    bare = _OF_THE_MACHINE.sub(
        " ", re.sub(r"\b(?:the|in|is|reads?)\b(?=.*\S)", " ", " ".join(shown))
    )
    first = " ".join(own).strip() or bare.strip()
    return {"units": first, "controller_units": bare.strip() or first}


_AXES = re.compile(r"(?<![a-z])([xyz])(?![a-z])\s*(?:axis|travel|goes|is|:|=)*\s*")
_ENDS = re.compile(
    rf"[-+]?{LENGTH}\s*(?:\.\.+|(?:up |down |back )?to\b|-)\s*(?:minus )?[-+]?{LENGTH}"
)
_UNIT_BEHIND = re.compile(r"(?:(?<![a-z])(?:mm|cm|inch(?:es)?|in|ft)|\")\s*\.?$")


def travel(text: str, said: Said) -> Parts:
    """The ends of X, Y and Z: by the letters of axes, or in this order."""
    plain = in_axes(with_figures(cleaned(text)))
    plain = re.sub(r"(?<=[0-9])\s*(?:x|by)\s*(?=[-0-9.])", " , ", plain)
    if re.search(r"(?<!along )\b[xyz]\b", plain):
        plain = re.sub(r"\s*\balong [xyz]\b", " ", plain)  # `X 0 to 49 left to right`
    axes = list(_AXES.finditer(plain))
    if axes and len({match[1] for match in axes}) == len(axes):
        found = _by_axis(plain, axes)
    else:
        found = dict(zip("xyz", _spans(plain), strict=False))
    if not found:
        raise OneByOne("how far it travels")
    unit = _UNIT_BEHIND.search(plain)
    return {
        f"travel_{axis}": f"{part} {unit[0]}" if unit and not _UNIT_IN.search(part) else part
        for axis, part in found.items()
    }


_UNIT_IN = re.compile(r"(?<![a-z])(?:mm|cm|inch(?:es)?|in|ft|not|known|unknown)(?![a-z])|\"")


def _by_axis(plain: str, axes: Sequence[re.Match[str]]) -> dict[str, str]:
    starts = [match.start() for match in axes]
    if re.search("[0-9]", plain[: starts[0]]):  # `0 to 49 in X, 0 to 97 in Y`
        ends = [0, *(match.end() for match in axes)]
        parts = [plain[a:b] for (a, _), b in zip(pairwise(ends), starts, strict=True)]
    else:
        ends = [*starts[1:], len(plain)]
        parts = [plain[match.end() : end] for match, end in zip(axes, ends, strict=True)]
    told = [re.sub(r"\b(?:and|in|along|of|on|the)\s*$", "", part.strip(" ,;")) for part in parts]
    return {match[1]: part.strip(" ,;") for match, part in zip(axes, told, strict=True)}


def _spans(plain: str) -> list[str]:
    """The pieces of a text that are the ends of one axis each."""
    parts = [part for part in re.split(r"[,;/]|\band\b", plain) if re.search("[0-9]", part)]
    if 2 <= len(parts) <= 3:
        return [part.strip() for part in parts]
    found = _ENDS.findall(plain)
    if len(found) > 1 and not re.search("[0-9]", _ENDS.sub(" ", plain)):
        return list(found)
    numbers = re.findall(rf"[-+]?{LENGTH}", plain)
    if len(numbers) in (4, 6):
        return [f"{low} to {high}" for low, high in zip(numbers[::2], numbers[1::2], strict=True)]
    return parts if len(numbers) < 3 else numbers


# ---- what may be told later ----------------------------------------------------------------------

_MORE = {
    "repeatability": r"\brepeat\w*|\bcomes? back|\bbacklash|\bplay\b|\bwithin\b",
    "nose": r"\bnose|\bnut\b|\bcollet|\bchuck|\blower end",
    "carriage": r"\breach(?:es)?|\bsticks? out|\boverhang|\bmoves? with|\bcarriage|\bsides?\b"
    r"|\b(?:left|right|front|back|rear|behind)\b|\beach way|\b(?:all )?(?:a)?round\b",
}
"""Words of what may be told of a machine: the first that a clause has."""
_LATER = frozenset(("later", "skip", "not", "known", "no", "none", "next", "leave", "pass"))


def more(text: str, said: Said) -> Parts:
    """What is known of the machine beside; nothing for `later`."""
    plain = cleaned(text)
    words = words_of(plain)
    if is_not_known(text) or (words and set(words) <= _LATER | {"it", "now", "out", "do"} and (
        set(words) & _LATER
    )):  # fmt: skip
        return {}
    if not re.search("[0-9]", with_figures(plain)):
        raise OneByOne("what is known of the machine")
    found: dict[str, list[str]] = {}
    for part in re.split(r"[,;](?!\d)\s*|:\s|\bbut\b", with_figures(plain)):
        about = [key for key, pattern in _MORE.items() if re.search(pattern, part)]
        if len(about) > 1 and "carriage" in about and len(re.findall(LENGTH, part)) > 1:
            for each in re.split(r"\band\b", part):  # `reach 6 and the nut is 2`
                key = next((k for k, pattern in _MORE.items() if re.search(pattern, each)), "")
                found.setdefault(key, []).append(each)
        elif about:
            found.setdefault(about[0], []).append(part)
    found.pop("", None)
    if not found:
        return {"nose" if said["moves"] in (None, "bed") else "carriage": plain}
    return {key: ", ".join(parts) for key, parts in found.items()}


# ---- the bed -------------------------------------------------------------------------------------


def board(text: str, said: Said) -> Parts:
    """How large a bed is, and how thick."""
    plain = with_figures(cleaned(text))
    found = {}
    for pattern in _THICK:
        if match := re.search(pattern, plain):
            found["thickness"] = match[1]
            plain = f"{plain[: match.start()]} {plain[match.end() :]}".strip(" ,;")
            break
    if "thickness" not in found and (match := re.search(_BY_BY, plain)):
        unit = _UNIT_BEHIND.search(match[0])
        sides = match[1] if not unit or _UNIT_IN.search(match[1]) else f"{match[1]} {unit[0]}"
        return {"size": sides, "thickness": match[2]}
    if "thickness" not in found and (match := re.search(_BY, plain)):
        left = f"{plain[: match.start()]} {plain[match.end() :]}"
        if len(others := re.findall(LENGTH, left)) == 1:
            return {"size": match[0], "thickness": others[0]}
    return {**({"size": plain} if re.search("[0-9]", plain) else {}), **found}


_THICK = (rf"({LENGTH})\s*thick\b", rf"\bthick(?:ness)?(?: is| of)?\s*:?\s*({LENGTH})")
_BY = rf"{LENGTH}(?: (?:wide|long|deep))?\s*(?:x|by)\s*{LENGTH}(?: (?:wide|long|deep))?"
_BY_BY = rf"({_BY})\s*(?:x|by)\s*({LENGTH})"
_SIDES = rf"(?P<len>{LENGTH}(?:\s*(?:x|by)\s*{LENGTH})?)"
_PITCHES = (
    rf"\b(?:every|each|pitch(?: of| is)?|spac(?:ed|ing)(?: of| is)?|apart by|on)\s+{_SIDES}"
    r"(?:\s+(?:apart|pitch|spacing|cent(?:er|re)s?))?",
    rf"(?<![0-9.x] )(?<!by )(?<![0-9.])(?P<len>{LENGTH})\s+(?:grid|raster)\b",
    rf"{_SIDES}\s+(?:apart|pitch|spac(?:ing|ed)"
    r"|(?:on |to )?cent(?:er|re)s?(?: to cent(?:er|re))?"
    r"|middle to middle)",
)
_CLASSED = rf"(?P<len>{LENGTH}(?:\s*(?:[efgh][5-9]|h1[01]))?)"
_HAS_UNIT = (
    rf"(?P<len>{LENGTH}\s*(?:[efgh][5-9]|h1[01])|[0-9./ -]+\s*(?:mm|cm|inch|in|\")(?![a-z]))"
)
_WIDTHS = (
    rf"\bholes? (?:(?:of|are|is|measure) )?{_HAS_UNIT}(?!\s+apart)",
    rf"\b(?:dia(?:meter)?|width|hole size|holes? of|bore)(?: of| is|:)?\s+{_CLASSED}",
    rf"{_CLASSED}\s+(?:wide(?!,? (?:x|by|and)? ?[0-9]+ (?:deep|long|high|back|up))"
    r"|dia(?:meter)?\b|in diameter|across the hole)",
    rf"{_HAS_UNIT}\s*(?:[a-z]+ ){{0,2}}holes?\b",
    rf"{_CLASSED}\s*(?:dog|bench|reamed|drilled|bored)\s+holes?\b",
)


def grid(text: str, said: Said) -> Parts:
    """How many holes, how far apart and how wide: by their words, or in this order."""
    rest = re.sub(r"\bm[0-9]{1,2}\b", " ", with_figures(cleaned(text)))
    its = class_in(rest) or " ".join(re.findall(r"\breamed\b", rest)[:1])
    rest = rest.replace(class_in(rest) or its, " ") if its else rest
    found: dict[str, str] = {}
    for key, patterns in (("pitch", _PITCHES), ("hole", _WIDTHS)):
        for match in filter(None, (re.search(each, rest) for each in patterns)):
            found[key] = match["len"].strip()
            rest = f"{rest[: match.start()]} , {rest[match.end() :]}"
            break
    left = [part for part in re.split(r"[,;:]", rest) if re.search("[0-9]", part)]
    if off := [part for part in left if re.search(_OFF_BY, part)]:
        found["hole_position"] = ", ".join(off)
        left = [part for part in left if part not in off]
    counted = [part for part in left if ALONG_WORDS & set(words_of(part))]
    for those in (left, counted):
        together_ = ", ".join(part.strip() for part in those)
        if those and _reads(counts, together_, said):
            found["holes"], left = together_, [part for part in left if part not in those]
            break
    for part in left:
        if "holes" not in found and _reads(counts, part, said):
            found["holes"] = part.strip()
        elif missing := [key for key in ("pitch", "hole") if key not in found]:
            found[missing[0]] = part.strip()
        else:
            found.setdefault("holes", part.strip())  # which asks what it does not know
    if not found:
        raise OneByOne("the holes")
    if its and "hole" in found:
        found["hole"] += f" {its}"
    return found


_OFF_BY = r"\bwithin\b|\boff\b|\bout by\b|\btenths?\b"


def _reads(read: Reader, text: str, said: Said) -> bool:
    try:
        read(text, said)
    except ValueError:
        return False
    return True


_USUAL_BED = {
    "edge": r"\bedges?\b|\bfrom (?:the |its )?(?:left|front)|\bleft\b|\bfront\b",
    "spoil": r"\bcut(?:s|ting|ters?)?\b|\bspoil\b|\binto\b|\bdeep\b",
    "missing": r"\bmissing\b|\bgone\b|\bnot there\b|\bunus(?:ed|able)\b|\bnone of\b|\bplugged\b",
    "hole_position": r"\bwithin\b|\boff\b|\bout\b|\btenths?\b|\bposition|\bplaces?\b|\berror"
    r"|\bbored\b|\bdrilled\b"
    r"|\btemplate|\baccura|\btwo (?:in|of|out of) three\b",
}


def usual_bed(text: str, said: Said) -> Parts:
    """What is not as usual of a bed."""
    return _by_words(text, _USUAL_BED, "what is usual of a bed")


def _by_words(text: str, words: Mapping[str, str], about: str) -> Parts:
    """Clauses by what their words are about; those about nothing belong to what stands before."""
    if (is_usual := agrees(text)) is not None:
        if is_usual:
            return {}
        raise OneByOne(about)
    found: dict[str, list[str]] = {}
    before: list[str] = []
    last = ""
    for part in clauses(text):
        about_it = [key for key, pattern in words.items() if re.search(pattern, part)]
        last = about_it[0] if about_it else last
        if last:
            found.setdefault(last, []).extend((*before, part))
        before = [] if last else [*before, part]
    if before:
        raise OneByOne(about)
    return {key: ", ".join(_told_by(key, parts)) for key, parts in found.items()}


def _told_by(key: str, parts: Sequence[str]) -> Sequence[str]:
    """Clauses that tell: of an error those with figures; others say how it came about."""
    if key != "hole_position":
        return parts
    told = [part for part in parts if re.search("[0-9]", with_figures(part))]
    is_usual = not told and any(re.search(r"\b(?:machine|cnc|router)\b", part) for part in parts)
    return ["not sure"] if is_usual else told or parts


# ---- pins, heights, a place ----------------------------------------------------------------------

_HIGH = re.compile(r"\b(?:high|height|above|over|tall|stands?|sticks? out|proud|up)\b")
_DEEP = re.compile(r"\b(?:deep|depth|down)\b")
_IN_THE_HOLE = re.compile(r"\b(?:in the holes?|shanks?|in it|lower)\b")
_AT_THE_WORK = re.compile(r"\b(?:body|heads?|touch(?:es)?|upper|above the bed,? thick)\b")
_MEASURED = re.compile(
    r"[()]|\b(?:that |which |they |actual(?:ly)?|really )*measures?d?\b|\bactual(?:ly)?\b"
)
_LONG = re.compile(rf"{LENGTH}\s+(?:long|in length|in all)\b|\blength\b")
_HALF_OF_IT = re.compile(r"\b1/2 (?:of )?(?:it|them|that|each|its length)\b|\b1/2 of them\b")
_HALF = re.compile(
    r"(?<!and )(?<!and a )(?<!one )(?<![0-9] )\bhalf "
    r"(?=(?:sticks?|stands?|is|are|above|out|up|in the)\b)"
)
"""Half of the pin, and no half of an inch."""


def pins(text: str, said: Said) -> Parts:
    """How thick a pin is in its hole and above it, how high it stands, how deep it goes.

    What it is by name, where it was measured too, and its whole length are said beside.
    """
    plain = _MEASURED.sub(", ", with_figures(_HALF.sub("half of it ", cleaned(text))))
    plain = re.sub(rf"(?<=[0-9])\s*x\s*(?={LENGTH})", ", ", plain)
    plain = re.sub(
        r"\s(?=(?:stick(?:s|ing)|stand(?:s|ing))\b(?! out\b| up\b(?! [0-9.])))", ", ", plain
    )
    found: dict[str, str] = {}
    thick, beside = list[str](), list[str]()
    for part in clauses(plain):
        if not re.search("[0-9]", part):
            continue
        is_one = len(re.findall(rf"(?<![a-z0-9.]){LENGTH}", part)) == 1
        if is_one and (_LONG.search(part) or _HALF_OF_IT.search(part)):
            beside.append(part)
        elif _AT_THE_WORK.search(part) or ("shank" in found and re.search(r"\babove it\b", part)):
            found["body"] = part
        elif _IN_THE_HOLE.search(part) and not _DEEP.search(part):
            found["in_hole" if thick and _is_no_thickness(part, said) else "shank"] = part
        elif _HIGH.search(part):
            found["pin_height"] = part
        elif _DEEP.search(part):
            found["in_hole"] = part
        else:
            thick.append(part)
    if (
        len(thick) == 1
        and len(numbers := re.findall(rf"(?<![a-z0-9.]){LENGTH}", thick[0])) in (2, 3)
        and not found
    ):
        thick = numbers  # `20 18 25`
    by_name = _measured_once(thick, said)
    if "pin_height" not in found and len(thick) > 1:
        found["pin_height"] = thick.pop()
    if thick:
        found.setdefault("shank", thick[0])
    if len(thick) > 1:
        found.setdefault("body", thick[-1])
    found = _of_its_length(beside, found, said) | {k: _alone(part) for k, part in found.items()}
    if not found:
        raise OneByOne("the pins")
    return {**found, BESIDE: ", ".join([*by_name, *beside])}


BESIDE = ""
"""The key of what was understood beside the parts, and is in none of them."""


def _mm(part: str, said: Said) -> float | None:
    """The one length of a part; None where it has none, or more."""
    try:
        return amounts(_alone(part), said, 1)[0].mm
    except ValueError:
        return None


def _is_no_thickness(part: str, said: Said) -> bool:
    """Whether what is in the hole is a depth: it is wider than the hole. Raises Unclear where it
    may be either."""
    wide, found = said["hole"], _mm(part, said)
    if wide is None or found is None or found > wide.mm:
        return True
    raise Unclear(f"{part}: is that how thick it is there, or how deep it goes in?")


def _measured_once(thick: list[str], said: Said) -> list[str]:
    """What a pin is by name, taken out of the list of its thicknesses: one was measured, with more
    decimals."""
    sizes = [_mm(part, said) for part in thick[:2]]
    if len(thick) < 2 or sizes[0] is None:
        return []
    exactly = _in_the_unit_of(thick[0], thick[1])
    measured = _mm(exactly, said)
    if measured is None or not 0 <= abs(measured - sizes[0]) <= sizes[0] * 0.03:
        return []
    by_name = thick.pop(0)
    thick[0] = exactly
    return [by_name]


def _of_its_length(beside: Sequence[str], found: Mapping[str, str], said: Said) -> dict[str, str]:
    """How high a pin stands and how deep it goes, as they follow from its whole length."""
    long = next((_mm(part, said) for part in beside if _LONG.search(part)), None)
    if long is None and beside:
        raise Unclear("how long is a pin, or how high does it stand above the bed?")
    if long is None:
        return {}
    high, deep = (_mm(found.get(key, ""), said) for key in ("pin_height", "in_hole"))
    if any(_HALF_OF_IT.search(part) for part in beside):
        high = long / 2
    elif high is None and deep is not None:
        high = long - deep
    if high is None or not 0 < high < long:
        return {}
    thick = said["thickness"]
    deep = deep or min(long - high, thick.mm if thick else long)
    return {"pin_height": f"{high:.9g} mm", "in_hole": f"{deep:.9g} mm"}


def _alone(part: str) -> str:
    """The one length of a part, with the class of its fit; the part where it has more."""
    found = list(re.finditer(rf"(?<![a-z0-9.]){_CLASSED}", part))
    return found[0]["len"] if len(found) == 1 else part


def _in_the_unit_of(before: str, part: str) -> str:
    """The length of a part that is said more exactly than before: in the unit of before, if it has
    none of its own."""
    exactly, unit = _alone(part), _UNIT_BEHIND.search(_alone(before))
    return exactly if _UNIT_BEHIND.search(exactly) or not unit else f"{exactly} {unit[0]}"


_LABELLED = re.compile(r"^(?:at |in )?(?:the )?(?:hole )?([a-z]{1,3} ?[0-9]{1,3})\b(.*)$")
_DIRECTION = re.compile(r"\b(?:left|right)\b|[+-] ?x")
_THE_WORK = re.compile(
    r"\b(?:and |with )?(?:the |its |my )?(?:work|piece|part|jig|board|tray|stock|blank|it)\b"
    r"(?: is| lies| goes| sits| extends| runs)?"
)


def place(read_corner: Reader, read_toward: Reader) -> Reader:
    """A reader of the hole at the inside corner, and of where the work lies seen from there."""

    def read(text: str, said: Said) -> Parts:
        plain = cleaned(text)
        if (match := _LABELLED.match(plain)) and _DIRECTION.search(match[2]):
            return {"corner": match[1], "toward": _THE_WORK.sub(" ", match[2]).strip(" ,;:")}
        for match in re.finditer(
            r"[,;]\s*|\s+(?:toward|towards|to the|lies|with)\s+|\s(?=[+-]\s*x)"
            r"|(?<=[0-9])\s+(?=(?:right|left|back|front|away|to)\b)",
            plain,
        ):
            first, second = plain[: match.start()], plain[match.end() :]
            toward = _THE_WORK.sub(" ", second)
            try:
                read_corner(first, said)
                read_toward(toward, said)
            except Unclear:
                return {"corner": first, "toward": toward}
            except ValueError:
                continue
            return {"corner": first, "toward": toward.strip()}
        return {"corner": text}

    return read


# ---- names ---------------------------------------------------------------------------------------

_NAMED = re.compile(
    r"(?i)^(?:the\s+)?(machine|bed|pin|jig|station)s?\b(?:\s+(?:is|are|named?|called))*\s*[:=]?\s*"
    r"[\"']?(.+?)[\"']?$"
)


_CALL = re.compile(r"(?i)\b(?:please )?(?:call|name) (?:it |this one |the (?=[a-z]))")


def names(text: str, said: Said) -> Parts:
    """Names by the word of what they are of; one alone is the station's."""
    if (is_other := agrees(text)) is not None:
        if not is_other or "yes" not in words_of(text):
            return {}  # `Others?`
        raise OneByOne("the names")
    found = {}
    text = _CALL.sub("", text)
    parts = [part.strip() for part in re.split(r"[,;]|\band\b", text) if part.strip()]
    for part in parts:
        if match := _NAMED.match(part):
            found[match[1].lower()] = match[2]
        elif len(parts) == 1:
            found["station"] = part
        else:
            raise OneByOne("the names")
    return found
