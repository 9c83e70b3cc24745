"""Forms of an invitation: the owner's, and that of somebody new."""

from typing import Any

from django import forms

from studio.forms.accounts import NewPasswordForm
from studio.models import Invitation, Person, Role


class InviteForm(forms.Form):
    """An address to invite, and its part in the studio."""

    email = forms.EmailField(label="E-mail address", max_length=254)
    role = forms.ChoiceField(
        label="Role", choices=Role.choices, initial=Role.HELPER.value
    )


class JoinForm(NewPasswordForm):
    """The name and password of somebody without an account."""

    name = forms.CharField(
        label="Your name",
        max_length=120,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    field_order = ["name", "new_password1", "new_password2"]

    def __init__(self, invitation: Invitation, *args: Any) -> None:
        super().__init__(Person(email=invitation.email), *args)

    def clean(self) -> dict[str, Any] | None:
        """Check the password against the name as well."""
        self.user.name = self.cleaned_data.get("name", "")
        return super().clean()


class ForgottenForm(forms.Form):
    """The address of somebody who forgot their password."""

    email = forms.EmailField(
        label="E-mail address",
        max_length=254,
        widget=forms.EmailInput(attrs={"autocomplete": "username"}),
    )
