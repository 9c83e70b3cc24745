"""Opens a new studio with its first owner."""

from datetime import datetime, time

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from studio.errors import Refused
from studio.models import (
    AccessHours,
    Membership,
    PaperSize,
    Person,
    Role,
    Studio,
    Weekday,
)
from studio.services import history
from studio.services.passwords import refuse_expected

# Until the owner changes them: kilns may be loaded and opened in these hours.
FIRST_HOURS = (time(8), time(20))


@transaction.atomic
def open_studio(
    *,
    name: str,
    currency: str,
    time_zone: str,
    temperature_unit: str,
    length_unit: str,
    owner_email: str,
    owner_name: str,
    password: str,
    at: datetime,
) -> Studio:
    """Make a studio, its owner, and daily access hours to start from.

    Raises
    ------
    Refused
        Naming every value that cannot be used; nothing is made then.
    """
    studio = Studio(
        name=name,
        currency=currency.upper(),
        time_zone=time_zone,
        temperature_unit=temperature_unit,
        length_unit=length_unit,
        paper_size=PaperSize.usual(length_unit),
        created_at=at,
    )
    email = owner_email.strip().lower()
    # Whoever runs the server typed it.
    owner = Person(email=email, name=owner_name, email_confirmed_at=at)
    owner.set_password(password)
    try:
        studio.full_clean()
        owner.full_clean()
        validate_password(password, user=owner)
        refuse_expected(password, [name])
    except ValidationError as problem:
        raise Refused(" ".join(problem.messages)) from problem
    studio.save()
    owner.save()
    Membership.across_studios.create(
        studio=studio,
        person=owner,
        role=Role.OWNER,
        temperature_unit=temperature_unit,
        length_unit=length_unit,
    )
    for weekday in Weekday:
        AccessHours.across_studios.create(
            studio=studio, weekday=weekday, opens=FIRST_HOURS[0], closes=FIRST_HOURS[1]
        )
    history.record(studio=studio, by=owner, at=at, what=f"Opened {studio.name}")
    return studio
