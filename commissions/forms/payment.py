"""The form for money that came in."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms

from commissions.selectors.money import Question
from studio.fields import DayField, MoneyField

QUESTIONS = {
    Question.LATE: "Yes, it came in after the commission was closed",
    Question.TWICE: "Yes, it came twice",
    Question.CREDIT: "Yes, the rest is a credit",
}


class PaymentForm(forms.Form):
    """An amount received."""

    amount = forms.DecimalField(max_digits=14, decimal_places=4, label="Amount")
    received_date = DayField(label="Received on")
    method = forms.CharField(
        max_length=60,
        required=False,
        label="How",
        help_text="For instance: bank transfer, cash.",
    )
    note = forms.CharField(max_length=200, required=False, label="Note")

    def __init__(
        self,
        *args: Any,
        currency: str,
        today: date,
        invoices: Sequence[tuple[str, str]] = (),
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        if invoices:
            self.fields["invoice"] = forms.ChoiceField(
                choices=[*invoices, ("", "None of them")],
                required=False,
                label="For invoice",
                error_messages={
                    "invalid_choice": "Choose an open invoice of this commission."
                },
            )
            self.order_fields(["invoice"])
        self.today = today
        self.fields["amount"] = MoneyField(currency, label="Amount")
        self.asked = {Question(q) for q in QUESTIONS if q in self.data}
        for question in self.asked:
            self.ask(question)

    def ask(self, question: Question) -> None:
        """Offer to confirm what may be a mistake."""
        self.fields[question] = forms.BooleanField(
            required=False, label=QUESTIONS[question]
        )

    @property
    def confirmed(self) -> set[Question]:
        """Return what was asked and confirmed."""
        return {one for one in self.asked if self.cleaned_data[one]}

    def clean_amount(self) -> Decimal:
        amount: Decimal = self.cleaned_data["amount"]
        if amount <= 0:
            raise forms.ValidationError("Write an amount above zero.")
        return amount

    def clean_received_date(self) -> date:
        day: date = self.cleaned_data["received_date"]
        if day > self.today:
            raise forms.ValidationError(
                "This day is still to come. Record the payment once it is in."
            )
        return day
