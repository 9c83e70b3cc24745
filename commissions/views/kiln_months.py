"""Shared kilns: a month's use by each maker, its invoices, who they are, the rates."""

import re
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from commissions.forms.kiln_users import KilnRatesForm, KilnUserForm
from commissions.selectors.clients import clients
from commissions.selectors.kiln_months import (
    UserMonth,
    kiln_month,
    month_of,
    next_month,
    use_words,
)
from commissions.services.kiln_invoices import invoice_kiln_month
from commissions.services.kiln_users import save_kiln_user, set_kiln_rates
from studio.answers import FormPage, answer_form
from studio.errors import StudioError
from studio.http import StudioRequest, posted, render_page, requires, viewer_for
from studio.money import plain_number
from studio.roles import Can
from studio.selectors.kiln_users import kiln_users
from studio.selectors.kilns import kilns
from studio.viewer import Viewer, count_words

if TYPE_CHECKING:
    from studio.models import KilnUser

BAR = 1000
MONTH = re.compile(r"(20\d\d)-(0[1-9]|1[0-2])")


@require_safe
@requires(Can.SEE_MONEY)
def kiln_use(request: StudioRequest) -> HttpResponse:
    """Show who used the kilns in a month, what it costs them, and what is invoiced."""
    now = timezone.now()
    this = month_of(request.studio, now)
    shown = min(_month(request.GET.get("month", "")) or this, this)
    found = kiln_month(request.studio, shown, now=now)
    viewer = viewer_for(request)
    most = max((one.charged.hours for one in found.rows), default=0) or 1
    to_invoice = found.to_invoice
    address = reverse("commissions:kiln_use")
    context = {
        "found": found,
        "rows": [
            _texts(one, viewer, float(most))
            # One alone is what the button of the page issues.
            | {"may_issue": one in to_invoice and len(to_invoice) > 1}
            for one in found.rows
        ],
        "unclaimed": [
            {
                "use": use,
                "words": f"{use.what}, {use.kiln}, {viewer.day(use.at)}",
                "hours": plain_number(use.hours),
                "href": reverse("firing:firing_detail", args=[use.firing])
                if use.firing
                else reverse("firing:booking_used", args=[use.booking]),
            }
            for use in found.unclaimed
        ],
        "month_value": f"{shown:%Y-%m}",
        "previous_url": f"{address}?month={next_month(shown, -1):%Y-%m}",
        "next_url": f"{address}?month={next_month(shown):%Y-%m}"
        if shown < this
        else "",
        "to_invoice": count_words(len(to_invoice), "invoice"),
        "to_invoice_total": viewer.money(
            sum((one.total for one in to_invoice), Decimal(0))
        )
        if to_invoice
        else "",
    }
    return render_page(request, "commissions/kiln_use.html", context)


def _month(text: str) -> date | None:
    """Return a month from an address; anything else counts as none."""
    found = MONTH.fullmatch(text)
    return date(int(found[1]), int(found[2]), 1) if found else None


def _texts(one: UserMonth, viewer: Viewer, most_hours: float) -> dict[str, Any]:
    bands, x = [], 0.0
    for _, charge in one.rows:
        for hours, kind in ((charge.free, "free"), (charge.hours, "paid")):
            width = float(hours) / most_hours * BAR
            if width:
                bands.append(
                    {"kind": kind, "x": round(x), "width": max(round(width), 1)}
                )
                x += width
    facts = [f"{plain_number(one.charged.hours)} h"]
    if one.charged.free:
        facts[0] += f", {plain_number(one.charged.free)} free"
    if one.charged.kwh:
        facts.append(f"{plain_number(one.charged.kwh)} kWh")
    return {
        "month": one,
        "bands": bands,
        "facts": facts if one.uses else [],
        "total": viewer.money(one.total),
        "energy": viewer.money(one.charged.energy) if one.charged.energy else "",
        "kwh": plain_number(one.charged.kwh),
        "lines": [
            {
                "what": use.what,
                "why": use_words(use, charge, zone=viewer.zone),
                "hours": plain_number(use.hours),
                "rate": viewer.money(charge.used.rate),
                "amount": viewer.money(charge.amount),
                "href": reverse("firing:firing_detail", args=[use.firing])
                if use.firing
                else reverse("firing:booking_detail", args=[use.booking]),
            }
            for use, charge in one.rows
        ],
    }


@require_POST
@requires(Can.SEE_MONEY)
def kiln_use_invoice(request: StudioRequest) -> HttpResponse:
    """Issue and send a month's invoices: everybody's, or those of one `user`."""
    month = _month(request.POST.get("month", ""))
    back = redirect("commissions:kiln_use")
    if month is None:
        messages.error(request, "Choose the month to invoice.")
        return back
    user = None
    if request.POST.get("user", ""):
        user = _user_or_404(request, request.POST["user"])
    try:
        made = invoice_kiln_month(
            studio=request.studio,
            month=month,
            user=user,
            by=request.user,
            at=timezone.now(),
        )
    except StudioError as problem:
        messages.error(request, str(problem))
    else:
        messages.success(
            request,
            f"{count_words(len(made), 'invoice')} issued. Now send the "
            f"{'PDF' if len(made) == 1 else 'PDFs'} to the clients.",
        )
    back["Location"] += f"?month={month:%Y-%m}"
    return back


def _user_or_404(request: StudioRequest, key: str) -> "KilnUser":
    is_key = key.isascii() and key.isdigit() and len(key) < 10
    return get_object_or_404(kiln_users(request.studio), pk=int(key) if is_key else 0)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def kiln_user_new(request: StudioRequest) -> HttpResponse:
    """Add a maker who shares the kilns."""
    return _edit(request, None, "Add a kiln user")


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_MONEY)
def kiln_user_edit(request: StudioRequest, pk: int) -> HttpResponse:
    """Change a maker who shares the kilns."""
    user = get_object_or_404(kiln_users(request.studio), pk=pk)
    return _edit(request, user, f"Change {user}")


def _edit(request: StudioRequest, user: "KilnUser | None", title: str) -> HttpResponse:
    names = ("name", "terms", "free_hours", "person", "is_retired")
    initial = {name: getattr(user, name) for name in names} if user else {}
    if user is not None:
        initial["free_hours"] = plain_number(user.free_hours)
        initial["client"] = clients(request.studio).filter(kiln_user=user).first()
    form = KilnUserForm(
        posted(request), studio=request.studio, user=user, initial=initial
    )
    return answer_form(
        request,
        _page(title),
        form,
        lambda: save_kiln_user(
            studio=request.studio,
            user=user,
            by=request.user,
            at=timezone.now(),
            **form.cleaned_data,
        ),
        told="Saved.",
    )


@require_http_methods(["GET", "POST"])
@requires(Can.MANAGE_STUDIO)
def kiln_rates(request: StudioRequest) -> HttpResponse:
    """Change what members and guests pay for an hour of each kiln."""
    form = KilnRatesForm(
        posted(request),
        kilns=kilns(request.studio).filter(is_retired=False),
        currency=request.studio.currency,
    )
    return answer_form(
        request,
        _page("Kiln rates", "An hour of each kiln. Empty: the kiln's own price."),
        form,
        lambda: set_kiln_rates(
            studio=request.studio,
            rates=form.rates,
            by=request.user,
            at=timezone.now(),
        ),
        told="The rates are saved.",
    )


def _page(title: str, intro: str = "") -> FormPage:
    return FormPage(
        title=title,
        submit="Save",
        intro=intro,
        back_url=reverse("commissions:kiln_use"),
        back_label="Kiln use",
        place="commissions",
        is_paired=bool(intro),
    )
