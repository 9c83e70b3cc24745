"""Forms by which people sign in and look after their own account."""

from typing import TYPE_CHECKING

from django.contrib.auth.forms import AuthenticationForm, SetPasswordForm

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


class NewPasswordForm(_SetPasswordForm):
    """A new password, typed twice."""
