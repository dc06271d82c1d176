"""What is typed on the pages of rates."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from .fields import DayField

ACCEPT, LEAVE = "accept", "leave"


class SeenField(forms.Field):
    """Proposals as the page showed them, each written “driver|minutes”; as a dict of Decimals by driver."""

    widget = forms.MultipleHiddenInput

    def to_python(self, value: Any) -> dict[str, Decimal]:
        found: dict[str, Decimal] = {}
        for text in value or ():
            driver, mark, minutes = str(text).partition("|")
            try:
                number = Decimal(minutes)
            except InvalidOperation as error:
                raise ValidationError("Choose among the rates that are shown.") from error
            if not mark or not number.is_finite() or len(driver) > 30:
                raise ValidationError("Choose among the rates that are shown.")
            found[driver] = number
        return found


class DecideForm(forms.Form):
    """Accept or leave what was learned."""

    rate = SeenField(required=False)
    verb = forms.ChoiceField(choices=[(ACCEPT, ACCEPT), (LEAVE, LEAVE)])

    def clean_rate(self) -> dict[str, Decimal]:
        seen: dict[str, Decimal] = self.cleaned_data["rate"]
        if not seen:
            raise ValidationError("Choose at least one rate.")
        return seen


def _note() -> forms.CharField:
    return forms.CharField(label="Why", max_length=200, required=False)


def _since(today: date) -> DayField:
    return DayField(label="Holds from", required=False, initial=today)


class RateForm(forms.Form):
    """A rate by hand. `drivers` are (driver, words), `steps` the names of the steps there are."""

    def __init__(
        self,
        *args: Any,
        drivers: Iterable[tuple[str, str]],
        steps: Iterable[str],
        today: date,
        **options: Any,
    ) -> None:
        options.setdefault("auto_id", "rate-%s")
        super().__init__(*args, **options)
        names = list(steps)
        if any(names):
            self.fields["step"] = forms.ChoiceField(
                label="Step", choices=[(name, name or "all together") for name in names], required=False
            )
        self.fields["driver"] = forms.ChoiceField(label="For each", choices=list(drivers))
        self.fields["minutes"] = forms.DecimalField(
            label="Minutes",
            min_value=0,
            max_digits=10,
            decimal_places=4,
            help_text="0 where it does not count.",
        )
        self.fields["since"] = _since(today)
        self.fields["note"] = _note()


class SetupForm(forms.Form):
    """The set-up of a kind, and its learning slope."""

    def __init__(self, *args: Any, today: date, **options: Any) -> None:
        options.setdefault("auto_id", "set-up-%s")
        super().__init__(*args, **options)
        self.fields["minutes"] = forms.DecimalField(
            label="Set-up minutes", min_value=0, max_digits=9, decimal_places=3
        )
        self.fields["slope"] = forms.DecimalField(
            label="Learning slope",
            max_digits=4,
            decimal_places=3,
            initial=Decimal(1),
            help_text="1: each copy takes as long as the first; 0.9: a tenth less with each doubling.",
        )
        self.fields["since"] = _since(today)
        self.fields["note"] = _note()
