"""Which passwords may be chosen: long ones that nobody expects, made of anything.

After NIST SP 800-63B-4, section 3.1.1: 15 characters where the password may be the only
factor, no rules about kinds of characters, and none that are common, a pattern, or made
of what everybody knows about this person.
"""

import re

from django.core.exceptions import ValidationError
from zxcvbn import zxcvbn

from studio.models import Membership, Person
from studio.models.person import LONGEST_PASSWORD, normal_password

# zxcvbn's scale ends at 4, "very unguessable"; 3 takes more than 10^8 guesses.
LOWEST_SCORE = 3
# It looks at all parts of a password against all words, in every reading of look-alike
# signs: 32 take up to 0.8 s, 72 up to 3 s.
LOOKED_AT = 32
# Of what is left without the words that everybody knows.
SHORTEST_REST = 8
PRODUCT = "slowcool"

WHAT_TO_DO = "Use a few words that nobody would put together."


class NotExpected:
    """Refuses a password that is tried early; one of Django's password validators."""

    def validate(self, password: str, user: Person | None = None) -> None:
        """Raise ValidationError with what to do instead."""
        refuse_expected(password, _words_about(user))

    def get_help_text(self) -> str:
        """Return what is asked for."""
        return WHAT_TO_DO


def refuse_expected(password: str, known: list[str]) -> None:
    """Refuse what is too long to check, easily guessed, or mostly known words.

    Raises
    ------
    ValidationError
        Saying what to do instead.
    """
    if len(password) > LONGEST_PASSWORD:
        raise ValidationError(f"Use at most {LONGEST_PASSWORD} characters.")
    password = normal_password(password)
    words = {
        word
        for text in [*known, PRODUCT]
        for word in re.findall(r"\w{4,}", text.casefold())
    }
    rest = password.casefold()
    for word in sorted(words, key=len, reverse=True):
        rest = rest.replace(word, "")
    if len(rest) < SHORTEST_REST and rest != password.casefold():
        raise ValidationError(
            "Names and addresses that belong to you or your studio are tried first. "
            + WHAT_TO_DO
        )
    if zxcvbn(password[:LOOKED_AT])["score"] < LOWEST_SCORE:
        raise ValidationError(
            "Common passwords, repeats and rows like “abcd” are tried first. "
            + WHAT_TO_DO
        )


def _words_about(person: Person | None) -> list[str]:
    if person is None:
        return []
    words = [person.name, person.email]
    if person.pk:
        mine = Membership.across_studios.filter(person=person)
        words += mine.values_list("studio__name", flat=True)
    return words
