"""How many cases are tried: few, and the same ones each time, in the ordinary suite; FUZZ_CASES in `make fuzz`.

To have a hundred thousand in minutes, Hypothesis gives each of its examples a random number generator, out of which
HUNDRED cases are put together; the one that is wrong is named in what is raised.
"""

import inspect
import os
from collections.abc import Callable, Sequence
from random import Random
from typing import Any

from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

MANY = int(os.environ.get("FUZZ_CASES", "0"))
HUNDRED = 100


def settled(examples: int) -> settings:
    return settings(
        max_examples=max(examples, 1),
        derandomize=not MANY,
        database=None,
        # What comes out of a number of its own cannot be made simpler.
        phases=[Phase.generate],
        deadline=None,
        # The rows that a case writes are taken back by the case itself.
        suppress_health_check=list(HealthCheck),
    )


def cases(few: int, *, share: int = 1) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Run a test of one case, whose argument `random` is a generator, `few` times; in `make fuzz` FUZZ_CASES times,
    divided by `share` where a case is dear."""
    wanted = MANY // share if MANY else few
    each = min(HUNDRED, max(wanted // 10, 1))

    def decorate(case: Callable[..., None]) -> Callable[..., None]:
        def test(*args: Any, **named: Any) -> None:
            for _ in range(each):
                case(*args, **named)

        # Its fixtures are the case's.
        test.__signature__ = inspect.signature(case)  # type: ignore[attr-defined]
        test.__name__, test.__doc__, test.__module__ = case.__name__, case.__doc__, case.__module__
        return settled(-(-wanted // each))(given(random=st.randoms(use_true_random=True))(test))

    return decorate


# What no form expects: other scripts and their figures, marks that turn the writing round, what no database keeps.
ODD = [
    "",
    " ",
    "0",
    "-1",
    "1e400",
    "NaN",
    "Infinity",
    "-0",
    "9" * 30,
    str(2**63),
    str(-(2**63) - 1),
    "1" * 5000,
    "0x10",
    "1_000",
    "٣",
    "²",
    "½",
    "\0",
    "a\0b",
    "\ud800",
    "\udfff\ud800",
    "\u202eabc\u202c",
    "\u200f\u05d0\u05d1",
    "\ufeff",
    "\U0010ffff",
    "e\u0301" * 50,
    "<script>alert(1)</script>",
    "'; DROP TABLE jobs_job; --",
    "{{ 7 }}{% now 'Y' %}",
    "%s%(work)s%n",
    "../../etc/passwd",
    "=1+1",
    "a" * 300,
    "2026-03-31",
    "0000-00-00",
    "9999-12-31",
    "24:00",
    "08:00",
    "4:30",
    "24 1/2 in",
    "on",
    "[]",
    "{}",
    "null",
    "\r\n\r\n",
    "\x1b[31m",
]


def text_of(random: Random, most: int = 12) -> str:
    """Letters of every script, halves of surrogate pairs among them."""
    tops = random.choices((0x7F, 0x2FF, 0xFFFF, 0x10FFFF), k=random.randint(0, most))
    return "".join(chr(random.randint(0, top)) for top in tops)


def odd(random: Random) -> str:
    return random.choice(ODD) if random.random() < 0.7 else text_of(random)


def pieced(random: Random, parts: Sequence[str], most: int) -> str:
    """A text put together of such parts, so that many come near to what is meant."""
    return "".join(random.choices(parts, k=random.randint(0, most)))


def damaged(random: Random, whole: bytes) -> bytes:
    """A whole file with some bytes changed, and often cut off at some place."""
    data = bytearray(whole)
    for _ in range(random.randint(0, 4)):
        data[random.randrange(len(data))] = random.randrange(256)
    return bytes(data if random.random() < 0.6 else data[: random.randrange(len(data))])


def noise(random: Random, most: int = 200) -> bytes:
    return random.randbytes(random.randint(0, most))


def sent(random: Random) -> str:
    """What a request can carry: no half of a surrogate pair comes through."""
    return odd(random).encode("utf-8", "replace").decode()
