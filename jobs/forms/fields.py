"""Fields for what the trade types: lengths such as 24 1/2 in, hours such as 4:30."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy, gettext_noop

from jobs.estimating.hours import HoursError, format_hours, parse_hours
from jobs.estimating.lengths import LengthError, format_length, parse_length

# What HoursError says, for the translations.
gettext_noop("Type hours, such as 4:30 or 4.5.")
gettext_noop("“%(text)s” is not an amount of time; type hours, such as 4:30 or 4.5.")
gettext_noop("That is more than anybody can work; type hours, such as 4:30 or 4.5.")


class LengthField(forms.Field):
    """A length as millimeters (Decimal). A bare number is in `unit`, "in" or "mm", the studio's unit."""

    def __init__(self, *, unit: str = "in", **options: Any) -> None:
        options.setdefault("widget", _short(40))
        super().__init__(**options)
        self.unit = unit

    def to_python(self, value: Any) -> Decimal | None:
        text = str(value or "").strip()
        if not text:
            return None
        try:
            return parse_length(text, self.unit)
        except LengthError as error:
            raise ValidationError(str(error)) from error

    def prepare_value(self, value: Any) -> Any:
        if not isinstance(value, Decimal):
            return value
        # Rounding to a sixteenth may not change a length that nobody touched: such a one is shown in millimeters.
        shown = format_length(value, self.unit)
        return shown if parse_length(shown, self.unit) == value else f"{value.normalize():f} mm"

    def has_changed(self, initial: Any, data: Any) -> bool:
        """Whether another length was typed: 24.5 in for 24 1/2 in is none."""
        try:
            return bool(self.to_python(data) != initial)
        except ValidationError:
            return True


class HoursField(forms.Field):
    """An amount of work as whole minutes (int), shown in `style`, "clock" or "decimal"."""

    def __init__(self, *, style: str = "clock", **options: Any) -> None:
        options.setdefault("widget", _short(30))
        super().__init__(**options)
        self.style = style

    def to_python(self, value: Any) -> int | None:
        text = str(value or "").strip()
        if not text:
            return None
        try:
            return parse_hours(text)
        except HoursError as error:
            raise ValidationError(gettext_lazy(error.words), params=error.values) from error

    def prepare_value(self, value: Any) -> Any:
        # The clock style is exact; decimal hours round to a tenth, so they would change what nobody touched.
        if isinstance(value, int) and not isinstance(value, bool):
            return format_hours(value, self.style if value % 6 == 0 else "clock")
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.to_python(data) != initial)
        except ValidationError:
            return True


class DayField(forms.DateField):
    """A day, by the browser's own picker."""

    def __init__(self, **options: Any) -> None:
        options.setdefault("widget", forms.DateInput(format="%Y-%m-%d", attrs={"type": "date"}))
        super().__init__(**options)


def _short(length: int) -> forms.TextInput:
    return forms.TextInput(attrs={"autocomplete": "off", "maxlength": str(length)})
