"""Names that the studio gives, and the addresses that are made from them."""

from django.db.models import Model
from django.utils.text import slugify

from .base import Refused


def clean_name(name: str, what: str, most: int) -> str:
    """The name in one line. Refused, with the field, where nothing is left of it or more than `most` letters."""
    name = " ".join(name.split())
    if not name or len(name) > most:
        raise Refused(f"A {what} needs a name of at most {most} letters.", "name")
    return name


def free_slug(model: type[Model], name: str) -> str:
    """A word for addresses, made from a name, that no row of the model has yet."""
    base = slugify(name)[:36] or str(model._meta.model_name)
    taken = set(model._default_manager.filter(slug__startswith=base).values_list("slug", flat=True))
    return next(
        slug for slug in [base, *(f"{base}-{number}" for number in range(2, 200))] if slug not in taken
    )
