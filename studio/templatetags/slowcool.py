"""Template tags that show numbers in the viewer's units; they calculate nothing else."""

from datetime import datetime
from decimal import Decimal
from typing import Any

from django import template
from django.forms import BoundField, ModelChoiceField

from studio.viewer import Viewer

register = template.Library()


def _viewer(context: dict[str, Any]) -> Viewer:
    found = context.get("viewer")
    if not isinstance(found, Viewer):
        raise template.TemplateSyntaxError(
            "This page shows numbers but has no viewer: pass viewer=Viewer.of_studio()."
        )
    return found


@register.simple_tag(takes_context=True)
def length(context: dict[str, Any], mm: float | None) -> str:
    """Show a length, a dash when there is none."""
    return "–" if mm is None else _viewer(context).length(mm)


@register.simple_tag(takes_context=True)
def size(context: dict[str, Any], width_mm: float, height_mm: float) -> str:
    """Show width by height."""
    return _viewer(context).size(width_mm, height_mm)


@register.simple_tag(takes_context=True)
def temperature(context: dict[str, Any], celsius: float | None) -> str:
    """Show a temperature."""
    return "–" if celsius is None else _viewer(context).temperature(celsius)


@register.simple_tag(takes_context=True)
def rate(context: dict[str, Any], c_per_h: float | None) -> str:
    """Show a rate; none means as fast as the kiln can."""
    return "as fast as it can" if c_per_h is None else _viewer(context).rate(c_per_h)


@register.simple_tag(takes_context=True)
def duration(context: dict[str, Any], seconds: float | None) -> str:
    """Show a span of time."""
    return "–" if seconds is None else _viewer(context).duration(seconds)


@register.simple_tag(takes_context=True)
def labour(context: dict[str, Any], minutes: int | None) -> str:
    """Show working time in hours and minutes."""
    return "–" if minutes is None else _viewer(context).labour(minutes)


@register.simple_tag(takes_context=True)
def money(context: dict[str, Any], amount: Decimal | None, currency: str = "") -> str:
    """Show an amount of money."""
    return "–" if amount is None else _viewer(context).money(amount, currency)


@register.simple_tag(takes_context=True)
def when(context: dict[str, Any], at: datetime | None) -> str:
    """Show an instant in the studio's zone, such as "tomorrow 09:00" if it is near."""
    return "–" if at is None else _viewer(context).moment(at, context["now"])


@register.simple_tag(takes_context=True)
def day(context: dict[str, Any], at: datetime | None) -> str:
    """Show a date in the studio's zone."""
    return "–" if at is None else _viewer(context).day(at)


@register.simple_tag(takes_context=True)
def left(context: dict[str, Any], until: datetime) -> str:
    """Show the time left until an instant."""
    return _viewer(context).left(until, context["now"])


@register.simple_tag
def field_mark(field: BoundField) -> str:
    """Say "optional" or "required", whichever is rarer on its form."""
    required = optional = 0
    for one in field.form.visible_fields():
        required += _must_be_filled(one)
        optional += not one.field.required and one.widget_type != "checkbox"
    if not required or not optional:
        return ""
    if required >= optional:
        return "" if field.field.required else "optional"
    return "required" if _must_be_filled(field) else ""


def _must_be_filled(field: BoundField) -> bool:
    """Return whether somebody has to do something: it has no answer to begin with."""
    if not field.field.required or field.initial not in (None, "", [], ()):
        return False
    if field.widget_type != "select":
        return True
    if isinstance(field.field, ModelChoiceField):
        return field.field.empty_label is not None
    return any(key in (None, "") for key, _ in getattr(field.field, "choices", ()))
