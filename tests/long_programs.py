"""Long programs at random, read by the product and by the oracle: `python tests/long_programs.py`.

`python tests/long_programs.py [PROGRAMS] [SEED]` makes programs of some five hundred lines each out
of the stretches of `programs.py`, with long runs between, compares both readers row for row, and
prints what it has compared. With 2,000 programs it takes some ten minutes; the suite reads a few.
"""

from __future__ import annotations

import random
import re
import sys
from collections.abc import Iterator

from hypothesis import HealthCheck, Phase, given, seed, settings
from programs import Case, cases
from readers import compare

POOL = 150
"""Short programs that lines are taken from; half of them begin with what another left on."""

PARTS = 22
"""Short programs in a long one."""

_ENDS = re.compile(r"(?i)m\s*0*(2|30)(?!\d)|^\s*%\s*$")


def long_programs(count: int, of_seed: int, of_many: int = POOL) -> Iterator[Case]:
    """Programs whose lines come from so many short ones, without what would end them."""
    pool: list[Case] = []
    for hostile in (False, True):
        pool += _short(of_many // 2, 2 * of_seed + hostile, hostile)
    bodies = [_body(case) for case in pool]
    chance = random.Random(of_seed)
    for _ in range(count):
        lines = [line for body in chance.choices(bodies, k=PARTS) for line in body]
        if chance.random() < 0.3:
            at = chance.randrange(len(lines) + 1)
            lines[at:at] = _run(chance)
        text = "".join(f"{line}\n" for line in lines).encode()
        yield chance.choice(pool)._replace(text=text, block_lines=None, known=())


def _short(count: int, of_seed: int, hostile: bool) -> list[Case]:
    found: list[Case] = []

    @seed(of_seed)
    @settings(
        max_examples=count, deadline=None, database=None, phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    @given(case=cases(most=12, hostile=hostile))
    def gather(case: Case) -> None:
        found.append(case)

    gather()
    return found


def _body(case: Case) -> list[str]:
    text = case.text.decode().removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")
    return [line for line in text.split("\n") if not _ENDS.search(line)]


def _run(chance: random.Random) -> list[str]:
    """Plain lines in a row."""
    return [
        f"X{chance.uniform(-99, 99):.3f} Y{chance.uniform(-9, 9):.2f}"
        for _ in range(chance.randrange(500))
    ]


def main() -> None:
    """Compare, and print how much."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    of_seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    lines, done = 0, 0
    while done < count:
        for case in long_programs(min(100, count - done), of_seed + done):
            compare(case)
            lines, done = lines + case.text.count(b"\n"), done + 1
    print(f"{done} programs of {lines} lines, read alike by both readers")


if __name__ == "__main__":
    main()
