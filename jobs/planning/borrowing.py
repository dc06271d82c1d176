"""Arrays that the kernel uses without counting references to them.

Numba counts a reference, atomically, whenever an array is taken from a tuple. In the kernel that was most of the time,
the more so with two threads at the same counters. What is borrowed has no counter; whoever calls the kernel holds the
arrays until it returns.
"""

from __future__ import annotations

from typing import Any

from numba import types
from numba.core import cgutils
from numba.extending import intrinsic, overload
from numba.np.arrayobj import make_array


def borrowed[T](value: T) -> T:
    """The same array or tuple of arrays, in compiled code without a counter of references."""
    return value


def _uncounted(context: Any, builder: Any, kind: Any, value: Any) -> Any:
    array = make_array(kind)(context, builder, value)  # type: ignore[no-untyped-call]
    array.meminfo = cgutils.get_null_value(array.meminfo.type)  # type: ignore[no-untyped-call]
    array.parent = cgutils.get_null_value(array.parent.type)  # type: ignore[no-untyped-call]
    return array._getvalue()


@intrinsic
def _borrow(_: Any, value: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        kind, given = signature.args[0], arguments[0]
        if isinstance(kind, types.Array):
            return _uncounted(context, builder, kind, given)
        parts = cgutils.unpack_tuple(builder, given, len(kind.types))  # type: ignore[no-untyped-call]
        bare = [_uncounted(context, builder, k, part) for k, part in zip(kind.types, parts, strict=True)]
        return context.make_tuple(builder, kind, bare)

    return value(value), generate


@overload(borrowed, strict=False)
def _borrowed(value: Any) -> Any:  # noqa: ARG001 -- numba calls it with the type of the argument
    return lambda value: _borrow(value)  # type: ignore[call-arg]
