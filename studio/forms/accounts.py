"""Forms by which people sign in and look after their own account."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.forms import (
    AuthenticationForm,
    PasswordChangeForm,
    SetPasswordForm,
)
from django.core.exceptions import ValidationError
from django.core.validators import MaxLengthValidator
from django.http import HttpRequest

from studio.models import Person
from studio.models.person import LONGEST_PASSWORD

if TYPE_CHECKING:  # Django's form classes take no type arguments at run time.
    _SetPasswordForm = SetPasswordForm[Person]
else:
    _SetPasswordForm = SetPasswordForm

NOT_TOO_LONG = MaxLengthValidator(
    LONGEST_PASSWORD, f"Use at most {LONGEST_PASSWORD} characters."
)


def _limit_passwords(form: forms.BaseForm) -> None:
    """Refuse what is too long before it is hashed, whoever has an account.

    The field says so: `max_length` would let the browser cut what is pasted.
    """
    for field in form.fields.values():
        if isinstance(field.widget, forms.PasswordInput):
            field.validators.append(NOT_TOO_LONG)


class SignInForm(AuthenticationForm):
    """E-mail address and password."""

    error_messages = {
        "invalid_login": (
            "This address and password do not go together. Type the password again; "
            "capitals count. If it is forgotten, a link for a new one is below."
        ),
        "inactive": "This account is closed. Ask the studio's owner.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _limit_passwords(self)
        # Django sets the length after the field has made its validators.
        self.fields["username"].validators.append(MaxLengthValidator(254))

    def clean_username(self) -> str:
        """Accept the address in any case: locks and accounts know it in lower case."""
        return str(self.cleaned_data["username"]).strip().lower()


NEW_PASSWORD_HELP = (
    "At least 15 characters. A few words that nobody would put together are easy to "
    "remember and hard to guess."
)


class NewPasswordForm(_SetPasswordForm):
    """A new password, typed twice."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["new_password1"].help_text = NEW_PASSWORD_HELP
        again = self.fields["new_password2"]
        again.label, again.help_text = "New password again", ""
        _limit_passwords(self)

    def validate_password_for_user(self, user: Person, *_: object) -> None:
        """Say what is wrong with a password where it was typed first."""
        super().validate_password_for_user(user, "new_password1")


class PasswordForm(NewPasswordForm, PasswordChangeForm):
    """A new password with the old one, whose failures count as in signing in."""

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_old_password(self) -> str:
        """Refuse a wrong one."""
        return _own_password(self.request, self.cleaned_data["old_password"])


class PasswordNowForm(forms.Form):
    """The password, asked again before one's way in is changed."""

    password = forms.CharField(
        label="Your password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        _limit_passwords(self)

    def clean_password(self) -> str:
        """Refuse a wrong one."""
        return _own_password(self.request, self.cleaned_data["password"])


class CodeForm(forms.Form):
    """A code that an app shows, or a recovery code."""

    code = forms.CharField(
        label="Code from the app",
        max_length=40,
        widget=forms.TextInput(
            attrs={
                "autocomplete": "one-time-code",
                "autocapitalize": "none",
                "spellcheck": "false",
            }
        ),
    )


class PasswordAndCodeForm(PasswordNowForm, CodeForm):
    """Both, asked again before the second step is changed."""

    field_order = ("password", "code")


def _own_password(request: HttpRequest, typed: str) -> str:
    """Return the password of whoever is signed in; a wrong one counts as elsewhere."""
    name = request.user.get_username()
    if authenticate(request, username=name, password=typed) is None:
        raise ValidationError("That is not your password. Type it again.")
    return typed
