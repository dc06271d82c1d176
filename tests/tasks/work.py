"""Tasks of the tests: one that is done, one that fails, and one during which something happens."""

from collections.abc import Callable

from django.tasks import task

from jobs.tasks.queue import PAPERS

happens: list[Callable[[], object]] = []


@task(queue_name=PAPERS)
def double(number: int) -> int:
    for each in happens:
        each()
    return 2 * number


@task(queue_name=PAPERS)
def fail() -> None:
    raise ArithmeticError("it cannot be done")
