"""How a view shows what an action refuses: beside what was typed."""

from collections.abc import Callable

from django.forms import BaseForm

from jobs.actions import Refused


def carried_out(form: BaseForm, action: Callable[[], object]) -> bool:
    """Whether `form` is valid and `action` went through; what it refused then stands at the form's field."""
    if not form.is_valid():
        return False
    try:
        action()
    except Refused as refused:
        form.add_error(refused.field if refused.field in form.fields else None, refused.sentence)
        return False
    return True
