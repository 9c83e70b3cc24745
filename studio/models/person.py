"""People who sign in. Their membership says what they may do in a studio."""

import unicodedata
from typing import Any

from django.contrib.auth.base_user import BaseUserManager
from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models.functions import Lower

LONGEST_PASSWORD = 1000
"""Nobody types more, and hashing megabytes keeps everybody waiting."""


def normal_password(raw: str) -> str:
    """Return a password as it is hashed: an é typed in one way or another is the same."""
    return unicodedata.normalize("NFKC", raw)


class PersonManager(BaseUserManager["Person"]):
    """Makes people, who sign in by e-mail address."""

    def create_user(
        self, email: str, password: str | None = None, **fields: Any
    ) -> "Person":
        """Make a person; the address is kept in lower case."""
        person = self.model(email=email.strip().lower(), **fields)
        person.set_password(password)
        person.save(using=self._db)
        return person

    def create_superuser(
        self, email: str, password: str | None = None, **fields: Any
    ) -> "Person":
        """Make a person with every Django permission."""
        fields |= {"is_staff": True, "is_superuser": True}
        return self.create_user(email, password, **fields)

    def get_by_natural_key(self, username: str | None) -> "Person":
        """Find by address, in whatever case it was typed."""
        return self.get(email=(username or "").strip().lower())


class Person(AbstractUser):
    """Somebody who signs in."""

    # Django's way to leave out an inherited field; its stubs do not allow for it.
    username = None  # type: ignore[assignment]
    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    email = models.EmailField("e-mail address", unique=True)
    name = models.CharField(max_length=120)
    email_confirmed_at = models.DateTimeField(
        null=True,
        blank=True,
        help_text="When it was shown that the address is theirs; empty if it never was.",
    )
    home = models.ForeignKey(
        "studio.Studio",
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="+",
        help_text="The studio they chose to find open when they sign in.",
    )

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    # The stubs take the inherited manager for one that no model may replace.
    objects = PersonManager()  # type: ignore[misc,assignment]

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=models.Q(email=Lower("email")), name="person_email_lower"
            )
        ]

    def __str__(self) -> str:
        return self.name or self.email

    # Where nobody has a name, Django sets what was typed on nobody, so that the answer
    # takes as long as checking it: these two must hash alike.

    def set_password(self, raw_password: str | None) -> None:
        """Set a password, however its letters are put together.

        Raises
        ------
        ValueError
            When it is too long to be hashed; forms refuse it in words.
        """
        if raw_password and len(raw_password) > LONGEST_PASSWORD:
            raise ValueError("The password is too long to be hashed.")
        super().set_password(raw_password and normal_password(raw_password))

    def check_password(self, raw_password: str | None) -> bool:
        """Return whether it is the password, however its letters are put together."""
        if raw_password and len(raw_password) > LONGEST_PASSWORD:
            return False
        return super().check_password(raw_password and normal_password(raw_password))

    def get_full_name(self) -> str:
        """Return the whole name; Django would put it together from two fields."""
        return str(self)
