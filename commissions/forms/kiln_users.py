"""The forms of shared kilns: who shares them, and what an hour costs them."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms

from commissions.models import Client
from commissions.selectors.clients import clients
from studio.fields import choose_from, hinted
from studio.models import MOST_FREE_HOURS, Kiln, KilnTerms, KilnUser, Person, Studio
from studio.money import plain_number
from studio.selectors.people import people_of


class KilnUserForm(forms.Form):
    """Who shares the kilns, on which terms, and who is invoiced."""

    name = forms.CharField(max_length=80)
    terms = forms.ChoiceField(
        label="Pays as",
        choices=KilnTerms.choices,
        widget=forms.RadioSelect,
        initial=KilnTerms.GUEST,
    )
    free_hours = forms.DecimalField(
        label="Free hours a month",
        required=False,
        min_value=0,
        max_value=MOST_FREE_HOURS,
        max_digits=6,
        decimal_places=2,
    )
    person: "forms.ModelChoiceField[Person]" = forms.ModelChoiceField(
        queryset=None,
        required=False,
        label="One of the studio's people",
        empty_label="No",
        help_text="Firings of the pieces they make are then theirs to pay.",
    )
    client: "forms.ModelChoiceField[Client]" = forms.ModelChoiceField(
        queryset=None,
        required=False,
        label="Invoice to",
        empty_label="A new client of this name",
    )
    is_retired = forms.BooleanField(label="No longer shares the kilns", required=False)

    def __init__(
        self, *args: Any, studio: Studio, user: KilnUser | None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choose_from(self, "person", people_of(studio))
        payer = choose_from(self, "client", clients(studio))
        hinted(self.fields["free_hours"], "h")
        if user is None:
            del self.fields["is_retired"]
        else:  # Somebody is invoiced already: another may be, but not nobody.
            payer.required, payer.empty_label = True, None

    def clean_free_hours(self) -> Decimal:
        """Take none written for none."""
        return self.cleaned_data["free_hours"] or Decimal(0)


class KilnRatesForm(forms.Form):
    """What members and guests pay for an hour of each kiln."""

    def __init__(
        self, *args: Any, kilns: Iterable[Kiln], currency: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.kilns = list(kilns)
        for kiln in self.kilns:
            for who, rate in (("member", kiln.member_rate), ("guest", kiln.guest_rate)):
                field = forms.DecimalField(
                    label=f"{kiln}, {who}",
                    required=False,
                    min_value=0,
                    max_digits=14,
                    decimal_places=4,
                )
                self.fields[f"{who}_{kiln.pk}"] = hinted(field, currency)
                if rate is not None:
                    self.initial[f"{who}_{kiln.pk}"] = plain_number(rate)

    @property
    def rates(self) -> dict[int, tuple[Decimal | None, Decimal | None]]:
        """Return the rates by kiln, a member's and a guest's."""
        found = self.cleaned_data
        return {
            kiln.pk: (found[f"member_{kiln.pk}"], found[f"guest_{kiln.pk}"])
            for kiln in self.kilns
        }
