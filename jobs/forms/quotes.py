"""What is typed on the pages of quotes and on the set-up page of how they are made."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms

from jobs.models import LineGroup, OperationKind

from .fields import DayField

HUNDRED = Decimal(100)
TYPED_GROUPS = [group for group in LineGroup if group not in (LineGroup.ROUNDING, LineGroup.TAX)]


class PercentField(forms.DecimalField):
    """A share, typed and shown in percent."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("max_digits", 6)
        options.setdefault("decimal_places", 2)
        super().__init__(**options)

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, Decimal):
            return f"{(value * HUNDRED).normalize():f}"
        return value

    def clean(self, value: Any) -> Any:
        typed = super().clean(value)
        return None if typed is None else typed / HUNDRED


class LinesForm(forms.Form):
    """A draft: its end, its terms, words and amount of each line, one line more. `lines` are (id, words, amount)."""

    valid_until = DayField(label="Valid until")
    terms = forms.CharField(label="Terms", widget=forms.Textarea(attrs={"rows": 3}), required=False)
    extra_words = forms.CharField(label="One more line", max_length=160, required=False)
    extra_group = forms.ChoiceField(
        label="Kind of line", choices=[(group.value, group.label) for group in TYPED_GROUPS], required=False
    )
    extra_amount = forms.DecimalField(label="Amount", max_digits=12, decimal_places=2, required=False)

    def __init__(self, *args: Any, lines: Iterable[tuple[int, str, Decimal]] = (), **options: Any) -> None:
        options.setdefault("auto_id", "line-%s")
        super().__init__(*args, **options)
        self.numbers = []
        for number, words, amount in lines:
            self.numbers.append(number)
            self.fields[f"words-{number}"] = forms.CharField(label="Words", max_length=160, initial=words)
            self.fields[f"amount-{number}"] = forms.DecimalField(
                label=f"Amount of {words}", max_digits=12, decimal_places=2, initial=amount, required=False
            )

    def of_line(self, number: int) -> tuple[forms.BoundField, forms.BoundField]:
        return self[f"words-{number}"], self[f"amount-{number}"]

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = self.cleaned_data
        has_words, amount = bool(typed.get("extra_words")), typed.get("extra_amount")
        if has_words != (amount is not None) and "extra_amount" not in self.errors:
            self.add_error("extra_amount", "One more line has words and an amount.")
        return typed


class DateForm(forms.Form):
    """A day of approval and how sure the date is to be."""

    if_approved_by = DayField(label="If approved and paid by")
    confidence = forms.TypedChoiceField(label="Holds with", coerce=Decimal)

    def __init__(self, *args: Any, usual: Decimal, **options: Any) -> None:
        options.setdefault("auto_id", "date-%s")
        super().__init__(*args, **options)
        shares = sorted({Decimal("0.50"), Decimal("0.80"), Decimal("0.90"), Decimal("0.95"), usual})
        self.fields["confidence"].choices = [(f"{n:.2f}", f"{n * 100:.0f} %") for n in shares]  # type: ignore[attr-defined]
        self.initial.setdefault("confidence", f"{usual:.2f}")


class SendForm(forms.Form):
    without_prices = forms.BooleanField(label="Send it without these prices", required=False)


class AcceptForm(forms.Form):
    answer = forms.CharField(label="What the customer said", max_length=200, required=False)
    approved = forms.BooleanField(label="The drawing is approved", required=False)
    paid = forms.BooleanField(label="The deposit is in", required=False)


class DeclineForm(forms.Form):
    answer = forms.CharField(label="What the customer said", max_length=200, required=False)
    closes_job = forms.BooleanField(label="They do not want the job at all", required=False)


class QuoteSettingsForm(forms.Form):
    """How quotes are made; shares in percent."""

    markup = PercentField(label="Markup on materials, %", min_value=0)
    outside_markup = PercentField(label="Markup on outside work, %", min_value=0)
    design_fee = PercentField(label="Design fee, % of the labor", min_value=0)
    tax = PercentField(label="Tax, %", min_value=0)
    deposit = PercentField(label="Deposit, % of the total", min_value=0, max_value=100)
    rounding = forms.DecimalField(
        label="Rounded to",
        max_digits=7,
        decimal_places=2,
        help_text="1.00: to whole amounts; 0.01: not at all.",
    )
    valid_days = forms.IntegerField(label="Valid for days", min_value=1, max_value=366)
    risk_confidence = PercentField(
        label="The hours suffice with, %",
        help_text="The allowance for risk is what the hours need beyond their estimate to do so.",
    )
    breakage = PercentField(
        label="Allowance for breakage, %",
        min_value=0,
        required=False,
        help_text="Of work and glass that can break. Empty: as in the studio's own record.",
    )
    bars_above_m2 = forms.DecimalField(
        label="Support bars above, m²", min_value=0, max_digits=6, decimal_places=3
    )
    terms = forms.CharField(label="Terms", widget=forms.Textarea(attrs={"rows": 4}), required=False)


class HoursForm(forms.Form):
    """What an hour of each kind of work is sold for."""

    def __init__(
        self, *args: Any, kinds: Iterable[OperationKind], hours: Mapping[int, Decimal], **options: Any
    ) -> None:
        super().__init__(*args, **options)
        for kind in kinds:
            self.fields[f"hour-{kind.slug}"] = forms.DecimalField(
                label=kind.name,
                min_value=0,
                max_digits=8,
                decimal_places=2,
                required=False,
                initial=hours.get(kind.pk),
            )
