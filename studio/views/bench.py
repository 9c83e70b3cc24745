"""One person's hours at the bench, skills and days away: their own, or another's.

One page with several small forms. Each sends what to do as ``do``, and the page comes
back with whatever failed still in its form.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from django.contrib import messages
from django.forms import Form
from django.http import Http404, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio.forms.bench import (
    BY_ROLE,
    OWN,
    BenchHoursForm,
    DaysAwayForm,
    SkillsForm,
    WeeklyLimitForm,
)
from studio.http import (
    OK,
    StudioRequest,
    attempt,
    render_page,
    requires,
    viewer_for,
)
from studio.roles import Can
from studio.selectors import bench
from studio.services.bench import (
    add_bench_hours,
    add_days_away,
    remove_bench_hours,
    remove_days_away,
    set_skills,
    set_weekly_limit,
)
from studio.views.found import member_or_404

if TYPE_CHECKING:
    from studio.models import Membership

RecordWork = Callable[..., object]


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def my_hours(request: StudioRequest) -> HttpResponse:
    """Show and set one's own hours and days away."""
    return _answer(request, request.membership, reverse("studio:my_hours"), is_own=True)


@require_http_methods(["GET", "POST"])
@requires(Can.PLAN_PIECES)
def member_hours(request: StudioRequest, pk: int) -> HttpResponse:
    """Show and set a member's hours, skills and days away."""
    member = member_or_404(request, pk)
    here = reverse("studio:member_hours", args=[pk])
    return _answer(request, member, here, is_own=False)


class _Forms:
    """The page's forms; the one that was sent keeps what was typed."""

    def __init__(self, request: StudioRequest, worker: bench.Worker) -> None:
        self.asked = request.POST.get("do", "") if request.method == "POST" else ""
        today = timezone.localdate()

        def typed(what: str) -> QueryDict | None:
            return request.POST if self.asked == what else None

        self.hours = BenchHoursForm(typed("add_hours"), prefix="hours")
        self.limit = WeeklyLimitForm(
            typed("limit"),
            prefix="limit",
            initial={"hours_a_week": worker.hours_a_week},
        )
        self.skills = SkillsForm(
            typed("skills"),
            prefix="skills",
            initial={
                "follows": OWN if worker.has_own_skills else BY_ROLE,
                "skills": sorted(worker.skills),
            },
        )
        self.away = DaysAwayForm(typed("add_away"), prefix="away", today=today)


def _answer(
    request: StudioRequest, member: "Membership", here: str, *, is_own: bool
) -> HttpResponse:
    worker = bench.worker_of(member)
    forms = _Forms(request, worker)
    # Those who plan set whose skills count; everybody sets their own time.
    sets_skills = not is_own or viewer_for(request).may_plan_pieces
    status = OK
    if request.method == "POST":
        status = _do(request, member, forms, sets_skills=sets_skills)
        if status == OK:
            return redirect(here)
    context = {
        "member": member,
        "worker": worker,
        "is_own": is_own,
        "here": here,
        "hours": list(bench.bench_hours(member)),
        "week_words": viewer_for(request).labour(bench.week_minutes(worker.spans)),
        "days_away": list(bench.days_away_to_come(member, timezone.localdate())),
        "skills_told": bench.skill_words(worker.skills),
        "sets_skills": sets_skills,
        "forms": forms,
    }
    return render_page(request, "studio/bench.html", context, status=status)


def _do(
    request: StudioRequest, member: "Membership", forms: _Forms, *, sets_skills: bool
) -> int:
    """Do what the form asks for; say what was done."""
    signed = {"membership": member, "by": request.user, "at": timezone.now()}

    def act(
        form: Form, work: RecordWork, told: str, values: Callable[[], dict[str, Any]]
    ) -> int:
        status = attempt(form, lambda: work(**signed, **values()))
        if status == OK:
            messages.success(request, told)
        return status

    if forms.asked == "add_hours":
        form = forms.hours
        return act(
            form, add_bench_hours, "The hours are added.", lambda: form.cleaned_data
        )
    if forms.asked == "limit":
        limit = forms.limit
        return act(
            limit, set_weekly_limit, "The limit is kept.", lambda: limit.cleaned_data
        )
    if forms.asked == "skills" and sets_skills:
        skills = forms.skills
        return act(skills, set_skills, "The skills are kept.", lambda: skills.terms)
    if forms.asked == "add_away":
        away = forms.away
        return act(
            away, add_days_away, "The days away are added.", lambda: away.cleaned_data
        )
    if forms.asked in REMOVALS:
        asked = request.POST.get("row", "")
        if asked.isascii() and asked.isdigit() and len(asked) < 19:
            REMOVALS[forms.asked](**signed, pk=int(asked))
            messages.success(request, "Removed.")
            return OK
    raise Http404("This page does no such thing.")


REMOVALS: dict[str, RecordWork] = {
    "remove_hours": remove_bench_hours,
    "remove_away": remove_days_away,
}
