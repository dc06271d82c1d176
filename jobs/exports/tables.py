"""Which tables and fields are exported, and which are not, and why. A new one is exported, unless it sounds secret."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.apps import apps
from django.contrib.auth.models import Group
from django.db import models

from .cells import AnyField

# Names of models as in Event.subject.
LEFT_OUT: dict[str, str] = {
    "asked": "counts of how often somebody asked, kept for minutes",
    "signedin": "who is signed in just now, with the keys of their sessions",
    "lease": "which processes live, renewed every few seconds",
    "paperbundle": "papers that somebody waits for, kept for an hour",
    "tap": "which taps of a tablet have come already, kept for days",
}
# A field whose name has one of these words in it is a secret, whatever table it is in.
SECRET_WORDS = frozenset({"password", "pin", "seed", "digest", "secret", "token", "hash", "key", "otp"})
# These sound so and are none: which drawing was approved, whether PINs are asked, what a plan was drawn with.
NO_SECRET = frozenset({"drawingapproval.digest", "studio.asks_pin", "planstate.seed"})
# What somebody is paid, in its own column and in the keys of what was written down of a change.
PAY = frozenset({"person.hourly_cost"})
PAY_KEYS = frozenset({"hourly_cost"})

SECRET = "a secret, or what would open as one"  # noqa: S105  # nosec B105  # A reason, not a secret.
PAID = "what somebody is paid"
BINARY = "a file, and no text: manage.py backup keeps it"


@dataclass(frozen=True, slots=True)
class Table:
    """A table to be exported: its name, its model and those of its fields that are written."""

    name: str
    model: type[models.Model]
    fields: tuple[AnyField, ...]
    left_out: dict[str, str]  # Names of fields, and why.

    @property
    def file_name(self) -> str:
        return f"{self.name}.csv"


def tables(*, with_pay: bool) -> list[Table]:
    """All that are exported, by name."""
    return [_table(name, model, with_pay) for name, model in sorted(_models()) if name not in LEFT_OUT]


def name_of(model: type[models.Model]) -> str:
    """As in Event.subject; of what connects two tables: operation_after."""
    return str(model._meta.model_name)


def _models() -> Iterator[tuple[str, type[models.Model]]]:
    yield name_of(Group), Group
    for model in apps.get_app_config("jobs").get_models(include_auto_created=True):
        if model._meta.managed and not model._meta.proxy:
            yield name_of(model), model


def _table(name: str, model: type[models.Model], with_pay: bool) -> Table:
    why = {
        field.name: reason
        for field in model._meta.concrete_fields
        if (reason := _left_out(f"{name}.{field.name}", field, with_pay))
    }
    kept = tuple(field for field in model._meta.concrete_fields if field.name not in why)
    return Table(name, model, kept, why)


def _left_out(named: str, field: AnyField, with_pay: bool) -> str:
    if SECRET_WORDS & set(field.name.split("_")) and named not in NO_SECRET:
        return SECRET
    if isinstance(field, models.BinaryField):
        return BINARY
    return PAID if named in PAY and not with_pay else ""
