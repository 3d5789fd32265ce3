"""Long loops are thinned in the suite; with PINCORNER_TEST_WHOLE set they run whole.

What is drawn at random is drawn in the same order either way: the thinned loop is the beginning of
the whole one.
"""

from __future__ import annotations

import os

VARIABLE = "PINCORNER_TEST_WHOLE"


def thinned(whole: int) -> int:
    """How often to go round a loop that is `whole` long on purpose: a twelfth of it."""
    return whole if os.environ.get(VARIABLE) else max(1, whole // 12)
