"""Arrays that the kernel uses without counting references to them.

Numba counts a reference, atomically, whenever an array is taken from a tuple. In the kernel that was most of the time,
the more so with two threads at the same counters. What is borrowed has no counter; whoever calls the kernel holds the
arrays until it returns.

This reaches into what numba does not promise to keep. Where it does not find it, nothing is borrowed: the kernel counts
its references, and the numbers are the same, only later.
"""

from __future__ import annotations

import logging
from typing import Any

from numba import types
from numba.extending import intrinsic, overload

logger = logging.getLogger(__name__)


def borrowed[T](value: T) -> T:
    """The same array or tuple of arrays, in compiled code without a counter of references."""
    return value


def _uncounted(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    from numba.core import cgutils
    from numba.np.arrayobj import make_array

    array = make_array(kind)(context, builder, value)  # type: ignore[no-untyped-call]
    array.meminfo = cgutils.get_null_value(array.meminfo.type)  # type: ignore[no-untyped-call]
    array.parent = cgutils.get_null_value(array.parent.type)  # type: ignore[no-untyped-call]
    return array._getvalue()


def _bare(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    """An array, or a tuple of arrays, without counters."""
    if isinstance(kind, types.Array):
        return _uncounted(context, builder, kind, value)
    parts = [builder.extract_value(value, place) for place in range(len(kind.types))]
    each = [_uncounted(context, builder, k, part) for k, part in zip(kind.types, parts, strict=True)]
    return context.make_tuple(builder, kind, each)


@intrinsic
def _borrow(_: Any, value: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind, given = signature.args[0], arguments[0]
        try:
            return _bare(context, builder, kind, given)
        except Exception as error:
            logger.warning("The kernel counts its references, and is slower: %s", error)
            context.nrt.incref(builder, kind, given)
            return given

    return value(value), generate


@overload(borrowed, strict=False)
def _borrowed(value: Any) -> Any:  # noqa: ARG001 -- numba calls it with the type of the argument
    return lambda value: _borrow(value)  # type: ignore[call-arg]
