"""Forms by which people sign in and look after their own account."""

from typing import TYPE_CHECKING, Any

from django.contrib.auth import authenticate
from django.contrib.auth.forms import (
    AuthenticationForm,
    PasswordChangeForm,
    SetPasswordForm,
)
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from studio.models import Person

if TYPE_CHECKING:  # Django's form classes take no type arguments at run time.
    _SetPasswordForm = SetPasswordForm[Person]
else:
    _SetPasswordForm = SetPasswordForm


class SignInForm(AuthenticationForm):
    """E-mail address and password."""

    error_messages = {
        "invalid_login": (
            "This address and password do not go together. Type the password again; "
            "capitals count. The studio's owner can give you a new one."
        ),
        "inactive": "This account is closed. Ask the studio's owner.",
    }

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


class PasswordForm(PasswordChangeForm):
    """A new password with the old one, whose failures count as in signing in."""

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request
        self.fields["new_password1"].help_text = NEW_PASSWORD_HELP

    def clean_old_password(self) -> str:
        """Refuse a wrong one."""
        old = str(self.cleaned_data["old_password"])
        if authenticate(self.request, username=self.user.email, password=old) is None:
            raise ValidationError("That is not your password. Type it again.")
        return old
