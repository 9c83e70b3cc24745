"""One's own way in: password, second step, and the devices that are signed in."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from studio.http import StudioRequest, render_page, requires
from studio.roles import Can
from studio.selectors.devices import devices_of
from studio.selectors.second_step import second_step_of
from studio.services import devices


@require_safe
@requires(Can.SEE_WORK)
def signing_in(request: StudioRequest) -> HttpResponse:
    """Show how one signs in, and where one is signed in."""
    context = {
        "devices": list(devices_of(request.user, now=timezone.now())),
        "second_step": second_step_of(request.user),
        "here": request.session.session_key,
    }
    return render_page(request, "studio/signing_in.html", context)


@require_POST
@requires(Can.SEE_WORK)
def device_end(request: StudioRequest, pk: int) -> HttpResponse:
    """Sign out on one of one's own devices."""
    device = devices_of(request.user, now=timezone.now()).filter(pk=pk).first()
    if device is None:
        raise Http404("You are not signed in there.")
    devices.end_device(device=device)
    messages.success(request, f"Signed out on {device.browser or 'that device'}.")
    return redirect("studio:signing_in")


@require_POST
@requires(Can.SEE_WORK)
def devices_end_others(request: StudioRequest) -> HttpResponse:
    """Sign out everywhere but here."""
    devices.end_devices(person=request.user, but=request.session.session_key)
    messages.success(request, "You are signed in only here now.")
    return redirect("studio:signing_in")
