"""A field's value as JSON, and back; on the way back nothing is taken on trust."""

import math
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db.models import Field

from studio.errors import Refused

BROKEN = (ValueError, TypeError, RecursionError)


def as_json(value: object) -> object:
    """Return a stored value as JSON: instants in UTC, decimals as text."""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    return value


def from_json(field: "Field[Any, Any]", raw: object, where: str) -> object:
    """Return a value as a field stores it.

    Raises
    ------
    Refused
        When the field could not hold it, or a form would never have taken it.
    """
    if raw is None:
        if not field.null:
            raise Refused(f"{where} is empty.")
        return None
    try:
        if field.get_internal_type() == "JSONField":
            _look_inside(raw)
            return raw
        if isinstance(raw, list | dict):
            raise ValidationError("It holds several values.")
        value = field.to_python(raw)
        _look_inside(value)
        if value not in field.empty_values:
            field.run_validators(value)
            if field.choices and value not in dict(field.flatchoices):
                raise ValidationError(f"{value!r} is none of its values.")
    except (ValidationError, ArithmeticError, *BROKEN) as problem:
        told = " ".join(getattr(problem, "messages", None) or [str(problem)])
        raise Refused(f"{where} cannot be taken: {told}") from problem
    return value


def _look_inside(value: object) -> None:
    """Refuse what one database would accept and another would not."""
    if isinstance(value, str) and "\0" in value:
        raise ValidationError("It holds a character that is none.")
    if isinstance(value, float) and not math.isfinite(value):
        raise ValidationError("It is no number.")
    if isinstance(value, datetime) and value.utcoffset() is None:
        raise ValidationError("It has no offset from UTC.")
    if isinstance(value, dict):
        for name, inner in value.items():
            _look_inside(name)
            _look_inside(inner)
    elif isinstance(value, list):
        for inner in value:
            _look_inside(inner)
