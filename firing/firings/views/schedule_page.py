"""One page for every schedule: of a piece that is fused next, or of any glass.

The address holds the whole request. POST orders what takes longer than a page may; for
a piece, POST with the page's values saves the schedule and goes on to its booking.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.views.decorators.http import require_http_methods

from firing.firings.forms.loads import KilnChoiceForm
from firing.kiln_time.selectors.bookings import next_booking_of
from firing.kiln_time.selectors.fuses import FusePlan, RuleOption, plan_fuse
from firing.kiln_time.selectors.kiln_time import booking_href
from firing.kiln_time.selectors.schedule_page import Choices, choices_of, glass_rules
from firing.schedules.forms.stress import (
    DesignForm,
    LimitsForm,
    first_values,
    limits_values,
)
from firing.schedules.selectors import design_charts, designer
from firing.schedules.selectors.design_orders import OutOfTime
from firing.schedules.selectors.designer import DesignerInput, Tried
from firing.schedules.selectors.designs import compute_designs, is_ready
from firing.schedules.selectors.fits import kilns
from firing.schedules.selectors.fuse_anneal import RULE_TITLES, is_by_design
from firing.schedules.selectors.limits import limits_of
from firing.schedules.selectors.refusal_words import refusal_words
from firing.schedules.selectors.stacks import table_kinds
from firing.schedules.selectors.tables import CAUTIONS
from firing.schedules.services.designs import order_design
from firing.schedules.services.schedules import compute_fuse_schedule
from firing.schedules.views.within_budget import (
    ONE_VISIT,
    address_of,
    in_time,
    within_the_budget,
)
from studio.errors import StudioError
from studio.http import (
    FILLED_IN_WRONGLY,
    OK,
    REFUSED,
    StudioRequest,
    attempt,
    piece_or_404,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors.pieces import PieceView

if TYPE_CHECKING:
    from firing.models import Schedule

HOUR = timedelta(hours=1)
ONLY_THE_CUT = "cut"
TEMPLATE = "firing/firings/schedule_page.html"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shown:
    """What is asked of a page, and how its answer is reached."""

    request: StudioRequest
    form: DesignForm
    now: datetime
    view: PieceView | None = None
    plan: FusePlan | None = None

    @property
    def is_only_the_cut(self) -> bool:
        return self.request.GET.get("only") == ONLY_THE_CUT


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.BOOK_KILNS)
def schedule_designer(request: StudioRequest) -> HttpResponse:
    """Choose a schedule for any glass and height, and try what might go wrong."""
    asked: Mapping[str, object] = request.GET
    if set(asked) <= {"part"}:
        asked = first_values(
            glass=designer.glasses(request.studio).first(),
            kiln=kilns(request.studio).first(),
            limits=limits_of(request.studio),
        )
    form = DesignForm(asked, studio=request.studio, viewer=viewer_for(request))
    shown = _Shown(request=request, form=form, now=timezone.now())
    context: dict[str, Any] = {"place": "kilns", "back": reverse("firing:kiln_list")}
    status = _try(shown, context)
    if status == FILLED_IN_WRONGLY:
        has_no_kiln = not kilns(request.studio).exists()
        has_no_glass = not designer.glasses(request.studio).exists()
        context |= {"has_no_kiln": has_no_kiln, "has_no_glass": has_no_glass}
        # If there is nothing to choose from yet, nothing was filled in wrongly.
        status = OK if has_no_kiln or has_no_glass else status
    return _page(shown, context, status)


@require_http_methods(["GET", "HEAD", "POST"])
@requires(Can.BOOK_KILNS)
def fuse_plan(request: StudioRequest, pk: int) -> HttpResponse:
    """Choose the kiln and the schedule of a piece's next firing, and save it."""
    view = piece_or_404(request, pk)
    kinds = table_kinds(view)
    if not kinds or next_booking_of(view.piece) is not None:
        return _not_now(request, view)
    is_saving = "kiln" in request.POST
    shown = _for_piece(
        request,
        view,
        kinds,
        request.POST if is_saving else request.GET,
        is_saving=is_saving,
    )
    status = OK
    if is_saving:
        saved = _save(shown)
        if isinstance(saved, HttpResponse):
            return saved
        status = saved
    context: dict[str, Any] = {
        "place": "pieces",
        "back": reverse("studio:piece_detail", args=[pk]),
        "view": view,
        "piece": view.piece,
        "plan": shown.plan,
    }
    status = _try(shown, context) if status == OK else _left(shown, context, status)
    return _page(shown, context, status)


def _for_piece(
    request: StudioRequest,
    view: PieceView,
    kinds: Sequence[str],
    asked: QueryDict,
    *,
    is_saving: bool,
) -> _Shown:
    """Return the page of a piece: in the kiln that was asked for, else the plan's."""
    now, viewer = timezone.now(), viewer_for(request)
    usual = limits_of(request.studio)
    limits_form = LimitsForm(asked, limits=usual)
    kind, rule = asked.get("kind", ""), asked.get("rule", "")
    plan = plan_fuse(
        view,
        kind=kind if kind in kinds else kinds[0],
        kiln=KilnChoiceForm(asked, studio=request.studio).chosen,
        viewer=viewer,
        now=now,
        rule=rule if rule in RULE_TITLES else "",
        limits=limits_form.limits if limits_form.is_valid() else usual,
    )
    values: dict[str, Any] = {"cut_h": f"{designer.CUT_H:g}", **limits_values(usual)}
    values |= asked.dict()
    if not is_saving:
        values |= {"kind": plan.kind, "kiln": plan.kiln.pk if plan.kiln else ""}
    form = DesignForm(
        values, studio=request.studio, viewer=viewer, piece=view, kinds=kinds
    )
    return _Shown(request=request, form=form, now=now, view=view, plan=plan)


def _save(shown: _Shown) -> HttpResponse | int:
    """Save a piece's schedule and go on to its booking; else say with what status."""
    request, form, view = shown.request, shown.form, shown.view
    form.ask_for_rule(is_required=True)
    made: list[Schedule] = []
    if view is None:
        raise ValueError("Only a piece's schedule is saved here.")
    if form.is_valid() and (ordered := _ordered(shown)):
        return ordered
    status = attempt(
        form,
        lambda: made.append(
            compute_fuse_schedule(
                piece=view.piece,
                kiln=form.cleaned_data["kiln"],
                rule=form.cleaned_data["rule"],
                kind=form.cleaned_data["kind"],
                limits=form.limits,
                by=request.user,
                at=shown.now,
            )
        ),
    )
    if status != OK:
        return status
    book = reverse("firing:fuse_book", args=[view.piece.pk])
    return redirect(f"{book}?schedule={made[0].pk}")


def _ordered(shown: _Shown) -> HttpResponse | None:
    """Go back to the page if a computed schedule is not ready in time."""
    asked = shown.form.request_parts(rule="")
    if asked.rule != designer.COMPUTED or is_ready(asked):
        return None
    try:
        compute_designs(asked, within_the_budget())
    except OutOfTime:
        href = f"{shown.request.path}?{urlencode(shown.form.kept_values)}"
        order_design(studio=shown.request.studio, asked=asked, href=href)
        messages.info(
            shown.request, "The schedule is being computed. Save it when it is there."
        )
        return redirect(href)
    except StudioError:
        # The service shows the model's refusal beside the form.
        return None
    return None


def _left(shown: _Shown, context: dict[str, Any], status: int) -> int:
    """Show what can be chosen instead of what was refused."""
    plan = shown.plan
    if plan is not None and plan.kiln is not None and plan.there and plan.there.is_fit:
        rule = plan.chosen.rule if plan.chosen else ""
        context["choices"] = _choices(shown, plan.rules, None, plan.kind, rule)
    return status


def _try(shown: _Shown, context: dict[str, Any]) -> int:
    """Add the answer to a page's context, and return its status."""
    form, plan = shown.form, shown.plan
    if plan is not None and (plan.there is None or not plan.there.is_fit):
        # Its reasons are the answer.
        return OK
    if not form.is_valid():
        return _left(shown, context, FILLED_IN_WRONGLY)
    try:
        context |= _answer(shown)
    except StudioError as problem:
        form.add_error(None, refusal_words(problem, viewer_for(shown.request)))
        return _left(shown, context, REFUSED)
    return OK


def _answer(shown: _Shown) -> dict[str, Any]:
    """Return what the page shows of a design, or the progress of computing it.

    Raises
    ------
    StudioError
        When there is no such schedule.
    """
    request, viewer, plan = shown.request, viewer_for(shown.request), shown.plan
    usual = designer.COMPUTED
    if plan is not None and plan.rules:
        usual = plan.usual.value
    asked = shown.form.request_parts(rule=usual)
    found: Tried | None = None
    job = None
    if plan is None or "kiln" in request.GET or is_ready(asked):
        found, job = in_time(
            request, asked, lambda told: designer.tried(asked, viewer=viewer, told=told)
        )
    context: dict[str, Any] = {"found": found, "job": job, "asked": asked}
    if found is None and plan is None:
        return context
    if found is not None and shown.is_only_the_cut:
        return context | {"charts": _charts(shown, found)}
    choices = _choices_of(shown, asked, found)
    context["choices"] = choices
    chosen = choices.chosen
    if chosen is None:
        return context
    if found is not None and found.outcomes.get(chosen.rule) is not found.outcome:
        # The rule asked for is not possible here: what is shown is what is booked.
        again = designer.tried(
            designer.with_rule(asked, chosen.rule), viewer=viewer, told=None
        )
        context["found"] = found = again
    if found is not None:
        context |= {
            "design": found.shown,
            "is_usual": is_by_design(request.studio),
            "is_range_stale": request.GET.get("last_h") != str(found.last_h),
            "charts": _charts(
                shown,
                found,
                [
                    one.rule
                    for one in choices.every
                    if one.outcome is not None and one is not chosen
                ],
            ),
        }
    elif chosen.proposal is not None:
        context["charts"] = design_charts.charts_of_proposal(
            chosen.proposal, name=chosen.name, **_framing(shown)
        )
    return context


def _choices_of(shown: _Shown, asked: DesignerInput, found: Tried | None) -> Choices:
    """Return the schedules to choose from, with the rule that is shown."""
    viewer = viewer_for(shown.request)
    if shown.plan is None or shown.view is None:
        options: Sequence[RuleOption] = glass_rules(asked, viewer=viewer, now=shown.now)
        return _choices(shown, options, found, asked.kind, asked.rule)
    plan = shown.plan
    if plan.awaits_design and found is not None:
        plan = plan_fuse(
            shown.view,
            kind=plan.kind,
            kiln=plan.kiln,
            viewer=viewer,
            now=shown.now,
            rule=asked.rule if asked.rule in RULE_TITLES else "",
            limits=asked.limits,
        )
    rule = plan.chosen.rule if plan.chosen else asked.rule
    if asked.rule == designer.ALONE and found is not None:
        rule = designer.ALONE
    return _choices(shown, plan.rules, found, plan.kind, rule)


def _choices(
    shown: _Shown,
    options: Sequence[RuleOption],
    found: Tried | None,
    kind: str,
    rule: str,
) -> Choices:
    return choices_of(
        options, found, kind=kind, rule=rule, viewer=viewer_for(shown.request)
    )


def _charts(
    shown: _Shown, found: Tried, rules: Sequence[str] = ()
) -> design_charts.DesignCharts:
    return design_charts.charts_of_design(found, rules=rules, **_framing(shown))


def _framing(shown: _Shown) -> dict[str, Any]:
    starts_at = shown.now.replace(minute=0, second=0, microsecond=0) + HOUR
    return {
        "viewer": viewer_for(shown.request),
        "starts_at": starts_at,
        "part": shown.request.GET.get("part", ""),
        "kept": _kept(shown.request),
    }


def _kept(request: StudioRequest) -> str:
    """Return the rest of the address for the links to a part of the chart."""
    kept = request.GET.copy()
    for name in ONE_VISIT:
        kept.pop(name, None)
    return f"{kept.urlencode()}&" if kept else ""


def _page(shown: _Shown, context: dict[str, Any], status: int) -> HttpResponse:
    request = shown.request
    is_ordering = request.method == "POST" and "kiln" not in request.POST
    if is_ordering and status == OK and not request.htmx:
        return redirect(address_of(request))
    is_cut = shown.is_only_the_cut and context.get("found") is not None
    context |= {"form": shown.form, "cautions": CAUTIONS, "here": request.path}
    return render_page(
        request,
        TEMPLATE,
        context,
        fragment="cut_only" if is_cut else "answer",
        status=status,
    )


def _not_now(request: StudioRequest, view: PieceView) -> HttpResponse:
    """Say why there is nothing to compute for a piece now."""
    booking = next_booking_of(view.piece)
    context = {
        "view": view,
        "piece": view.piece,
        "booking": booking,
        "booking_url": booking_href(booking) if booking is not None else "",
        "place": "pieces",
    }
    status = REFUSED if request.method == "POST" else OK
    return render_page(
        request, "firing/firings/fuse_not_now.html", context, status=status
    )
