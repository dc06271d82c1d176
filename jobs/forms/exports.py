"""What is typed to take all rows along."""

from django import forms


class ExportForm(forms.Form):
    with_pay = forms.BooleanField(required=False, label="With what people are paid")
