"""What is typed on the pages of quotes and on the set-up page of how they are made."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django import forms

from jobs.estimating.areas import area_unit
from jobs.estimating.pricing import OutsideOffer
from jobs.estimating.shares import format_share
from jobs.models import LineGroup, Nature, OperationKind, OutsidePrice, Studio, Supplier

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
        self.fields["confidence"].choices = [(f"{n:.2f}", format_share(n)) for n in shares]  # type: ignore[attr-defined]
        self.initial.setdefault("confidence", f"{usual:.2f}")


class SendForm(forms.Form):
    without_prices = forms.BooleanField(label="Send it without these prices", required=False)


class AcceptForm(forms.Form):
    answer = forms.CharField(label="What the customer said", max_length=200, required=False)
    approved = forms.BooleanField(
        label="The drawing is approved too",
        required=False,
        help_text="The quote is for the price. If not, the customer approves the drawing on their page, once.",
    )
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
    bars_above_m2 = forms.DecimalField(min_value=0, max_digits=6, decimal_places=3)
    terms = forms.CharField(label="Terms", widget=forms.Textarea(attrs={"rows": 4}), required=False)

    def __init__(self, data: Any, *, initial: Mapping[str, Any], studio: Studio) -> None:
        self.area = area_unit(studio.units)
        self.bars = initial["bars_above_m2"]
        shown = {**initial, "bars_above_m2": self.area.amount(self.bars)}
        super().__init__(data, initial=shown)
        self.fields["bars_above_m2"].label = f"Support bars above, {self.area.word}"

    def clean_bars_above_m2(self) -> Decimal:
        """Square meters; what nobody touched stays as it is to the last place."""
        typed: Decimal = self.cleaned_data["bars_above_m2"]
        return self.area.kept_amount(typed) if "bars_above_m2" in self.changed_data else self.bars


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


def _money(label: str, initial: Decimal | None = None) -> forms.DecimalField:
    return forms.DecimalField(
        label=label, min_value=0, max_digits=9, decimal_places=2, required=False, initial=initial
    )


def _days(initial: int | None = None) -> forms.IntegerField:
    return forms.IntegerField(
        label="Days until it is back", min_value=0, max_value=1000, required=False, initial=initial
    )


class OutsideForm(forms.Form):
    """The table of what suppliers take for outside work, a row for each price and one for a new one.

    Prices are of a square foot where the studio measures in inches; one that nobody touched is kept to the last place.
    """

    def __init__(self, *args: Any, prices: Iterable[OutsidePrice], studio: Studio, **options: Any) -> None:
        options.setdefault("auto_id", "outside-%s")
        super().__init__(*args, **options)
        unit = area_unit(studio.units)
        self.area, self.per_m2 = unit.word, unit.size
        self.prices = list(prices)
        for row in self.prices:
            shown = round(row.price_m2 * self.per_m2, 2)
            self._row(str(row.pk), shown, row.minimum, row.days)
        kinds = OperationKind.objects.filter(nature=Nature.OUTSIDE)
        suppliers = Supplier.objects.filter(active=True)
        self.fields["new-kind"] = forms.ModelChoiceField(kinds, label="Work", required=False)
        self.fields["new-supplier"] = forms.ModelChoiceField(suppliers, label="Supplier", required=False)
        self._row("new")

    def _row(
        self, key: str, price: Decimal | None = None, least: Decimal | None = None, days: int | None = None
    ) -> None:
        self.fields[f"{key}-price"] = _money(f"Price per {self.area}", price)
        self.fields[f"{key}-minimum"] = _money("Least for a panel", least)
        self.fields[f"{key}-days"] = _days(days)

    def rows(self) -> list[tuple[OutsidePrice, list[forms.BoundField]]]:
        return [(row, self._fields(str(row.pk))) for row in self.prices]

    def new_row(self) -> list[forms.BoundField]:
        return [self["new-kind"], self["new-supplier"], *self._fields("new")]

    def _fields(self, key: str) -> list[forms.BoundField]:
        return [self[f"{key}-{name}"] for name in ("price", "minimum", "days")]

    def clean(self) -> dict[str, Any]:
        typed: dict[str, Any] = self.cleaned_data
        parts = [typed.get(f"new-{name}") for name in ("kind", "supplier", "price")]
        if any(part is not None for part in parts) and None in parts and not self.errors:
            self.add_error("new-price", "A new price has its work, its supplier and an amount.")
        kind, supplier = parts[:2]
        if any((row.kind, row.supplier) == (kind, supplier) for row in self.prices):
            self.add_error("new-supplier", "This supplier has a price for it already: change it above.")
        return typed

    def offers(self) -> dict[tuple[OperationKind, Supplier], OutsideOffer | None]:
        """What was typed, by kind and supplier; None where the price was emptied."""
        found = {(row.kind, row.supplier): self._offer(str(row.pk), row.price_m2) for row in self.prices}
        typed = self.cleaned_data
        if typed["new-kind"] is not None:
            found[typed["new-kind"], typed["new-supplier"]] = self._offer("new")
        return found

    def _offer(self, key: str, before: Decimal | None = None) -> OutsideOffer | None:
        price, least, days = (self.cleaned_data[f"{key}-{name}"] for name in ("price", "minimum", "days"))
        if price is None:
            return None
        touched = before is None or f"{key}-price" in self.changed_data
        per_m2 = round(price / self.per_m2, 4) if touched else before
        assert per_m2 is not None
        return OutsideOffer(per_m2, least or Decimal(0), 7 if days is None else days)
