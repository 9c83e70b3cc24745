"""What one person was told, what they want to be told, and the phones that take it."""

import base64

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import (
    require_http_methods,
    require_POST,
    require_safe,
)

from studio.answers import FormPage, answer_form
from studio.errors import StudioError
from studio.forms.messages import PhoneForm, WishesForm
from studio.http import (
    FILLED_IN_WRONGLY,
    REFUSED,
    StudioRequest,
    posted,
    public,
    render_page,
    requires,
    viewer_for,
)
from studio.outbox import letters_in, outbox_folder
from studio.roles import Can
from studio.selectors.messages import (
    failed_deliveries,
    has_stopped,
    messages_to,
    phones_of,
    wishes_of,
)
from studio.services.deliveries import send_again
from studio.services.messages import (
    add_phone,
    address_of,
    allow_letters,
    remove_phone,
    save_wishes,
    stop_letters,
    stop_mail,
    stopped_by,
    topics_for,
)
from studio.web_push import public_key

LETTERS_SHOWN = 50


@require_safe
@requires(Can.SEE_WORK)
def message_list(request: StudioRequest) -> HttpResponse:
    """Show what this person was told, newest first, and what could not be sent."""
    viewer = viewer_for(request)
    key = base64.urlsafe_b64encode(public_key()).decode().rstrip("=")
    is_owner = viewer.may_manage_studio
    context = {
        "rows": messages_to(request.membership),
        "phones": list(phones_of(request.membership)),
        "push_key": key,
        "now": timezone.now(),
        "failed": list(
            failed_deliveries(request.membership, every=is_owner)[:LETTERS_SHOWN]
        ),
        "letters": [one.name for one in letters_in(request.studio.pk)[:LETTERS_SHOWN]]
        if is_owner and not settings.MAIL_IS_SET
        else [],
        "mail_is_set": settings.MAIL_IS_SET,
    }
    return render_page(request, "studio/message_list.html", context)


@require_http_methods(["GET", "POST"])
@requires(Can.SEE_WORK)
def message_wishes(request: StudioRequest) -> HttpResponse:
    """Choose what one wants to be told of, how, and when not."""
    wishes = wishes_of(request.membership)
    names = ("mail", "phone", "quiet_from", "quiet_to", "is_woken", "morning_at")
    form = WishesForm(
        posted(request),
        topics=topics_for(request.membership),
        initial={name: getattr(wishes, name) for name in names},
    )
    page = FormPage(
        title="What to tell me",
        submit="Save",
        back_url=reverse("studio:message_list"),
        back_label="Messages",
        is_paired=True,
    )
    return answer_form(
        request,
        page,
        form,
        lambda: save_wishes(membership=request.membership, **form.cleaned_data),
        told="Saved what you are told, and when.",
    )


@require_POST
@requires(Can.SEE_WORK)
def phone_add(request: StudioRequest) -> HttpResponse:
    """Send this person's messages to the browser that asks."""
    form = PhoneForm(request.POST)
    if not form.is_valid():
        return _plain("This browser cannot take messages.", FILLED_IN_WRONGLY)
    try:
        add_phone(membership=request.membership, at=timezone.now(), **form.cleaned_data)
    except StudioError as problem:
        return _plain(str(problem), REFUSED)
    messages.success(request, "This phone gets your messages now.")
    return HttpResponse(status=204)


def _plain(words: str, status: int) -> HttpResponse:
    """Answer the page's own script, which shows the words beside its button."""
    return HttpResponse(words, status=status, content_type="text/plain; charset=utf-8")


@require_POST
@requires(Can.SEE_WORK)
def phone_remove(request: StudioRequest, pk: int) -> HttpResponse:
    """Send one's messages to a phone no more."""
    phone = get_object_or_404(phones_of(request.membership), pk=pk)
    remove_phone(phone=phone)
    messages.success(request, f"{phone} gets no more messages.")
    return redirect("studio:message_list")


@require_POST
@requires(Can.SEE_WORK)
def delivery_again(request: StudioRequest, pk: int) -> HttpResponse:
    """Send again what could not be sent: one's own, for an owner anybody's."""
    is_owner = viewer_for(request).may_manage_studio
    found = failed_deliveries(request.membership, every=is_owner)
    delivery = get_object_or_404(found, pk=pk)
    send_again(delivery=delivery, at=timezone.now())
    messages.success(request, "It is sent again now.")
    return redirect("studio:message_list")


@require_safe
@requires(Can.MANAGE_STUDIO)
def letter_file(request: StudioRequest, name: str) -> FileResponse:
    """Send a letter that lies as a file while no mail server is set."""
    if name not in {one.name for one in letters_in(request.studio.pk)}:
        raise Http404("There is no such letter.")
    opened = (outbox_folder(request.studio.pk) / name).open("rb")
    return FileResponse(
        opened, as_attachment=True, filename=name, content_type="message/rfc822"
    )


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
@public
def letters_stop(request: HttpRequest, token: str) -> HttpResponse:
    """End a studio's letters to one address, and allow them again on the same page."""
    found = address_of(token)
    if found is None:
        raise Http404("This link ends nothing.")
    studio, address = found
    if request.method == "POST" and "again" in request.POST:
        allow_letters(studio=studio, address=address)
    elif request.method == "POST":
        stop_letters(studio=studio, address=address, at=timezone.now())
    context = {
        "studio": studio,
        "address": address,
        "is_stopped": has_stopped(studio, address),
    }
    return render(request, "studio/letters_stop.html", context)


@csrf_exempt
@require_http_methods(["GET", "HEAD", "POST"])
@public
def message_stop(request: HttpRequest, token: str) -> HttpResponse:
    """End one person's mail on one topic, by the link in it; RFC 8058 posts to it.

    The token is the only authority, and looking at the page ends nothing: programs
    that check mail follow links.
    """
    found = stopped_by(token)
    if found is None:
        raise Http404("This link ends nothing.")
    membership, topic = found
    is_done = request.method == "POST"
    if is_done:
        stop_mail(membership=membership, topic=topic)
    context = {
        "topic": topic.label,
        "studio": membership.studio,
        "is_done": is_done,
    }
    return render(request, "studio/message_stop.html", context)
