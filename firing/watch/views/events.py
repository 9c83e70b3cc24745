"""What happened in a firing: seen to by somebody, and taken back."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from firing.loads.selectors.firings import title_of
from firing.watch.forms.events import SeenToForm
from firing.watch.selectors.events import all_events
from firing.watch.selectors.words import event_words
from firing.watch.services.watching import see_to_event, take_back_seen_to
from studio.answers import FormPage, answer_form, answer_undo
from studio.http import StudioRequest, posted, requires, viewer_for
from studio.roles import Can


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def event_seen_to(request: StudioRequest, pk: int) -> HttpResponse:
    """Record that somebody saw to what happened, and what they did."""
    event = get_object_or_404(all_events(request.studio), pk=pk)
    now, viewer = timezone.now(), viewer_for(request)
    words = event_words(event, viewer=viewer, now=now)
    page = FormPage(
        title=words.title,
        submit="I saw to it",
        back_url=reverse("firing:firing_detail", args=[event.firing_id]),
        back_label=title_of(event.firing),
        intro=f"{words.what} {words.look_at}".strip(),
    )
    form = SeenToForm(posted(request), initial={"note": event.note})
    return answer_form(
        request,
        page,
        form,
        lambda: see_to_event(
            event=event, note=form.cleaned_data["note"], by=request.user, at=now
        ),
        told=f"{words.title}: seen to.",
        undo_url=reverse("firing:event_not_seen_to", args=[event.pk]),
    )


@require_http_methods(["GET", "POST"])
@requires(Can.RUN_FIRINGS)
def event_not_seen_to(request: StudioRequest, pk: int) -> HttpResponse:
    """Take back that somebody saw to it."""
    event = get_object_or_404(all_events(request.studio), pk=pk)
    now, viewer = timezone.now(), viewer_for(request)
    words = event_words(event, viewer=viewer, now=now)
    page = FormPage(
        title=f"{words.title}: not seen to",
        submit="Not seen to",
        back_url=reverse("firing:firing_detail", args=[event.firing_id]),
        back_label=title_of(event.firing),
        intro="It shows on Today again while the firing runs.",
    )
    return answer_undo(
        request,
        page,
        lambda reason: take_back_seen_to(
            event=event, reason=reason, by=request.user, at=now
        ),
        recorded_at=event.acknowledged_at or now,
        now=now,
        told=f"{words.title}: not seen to after all.",
    )
