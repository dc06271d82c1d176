from datetime import date

from django import forms


class PromiseForm(forms.Form):
    """A day and who was told. Whether the day may be promised is for the action to say."""

    day = forms.DateField(
        label="Promise this day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    told = forms.CharField(
        label="Told to", max_length=80, widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    reason = forms.CharField(label="Why it changes", max_length=200, required=False)

    def __init__(
        self,
        data: object = None,
        *,
        proposed: date | None = None,
        earlier: date | None = None,
        told: str = "",
    ) -> None:
        super().__init__(data, initial={"day": proposed, "told": told})  # type: ignore[arg-type]
        if earlier is None:
            del self.fields["reason"]
