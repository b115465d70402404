"""Pages at the door: sign in, sign out, lock, the first page, a new PIN or password, a browser made a tablet."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme, urlencode
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from plant import clock
from plant.people.models import Person
from records.people import components, credentials, navigation, sessions
from records.people.forms import NewSecret, PasswordSignIn, PinSignIn, operators
from records.people.middleware import Request
from records.people.refused import Refused
from records.people.tablets import tablet_of


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    """To the first page of the person's role; where there is none yet, a list of what is open to them."""
    first = navigation.first_page(cast(Request, request).roles)
    return redirect(first) if first else render(request, "records/people/home.html")


@sensitive_post_parameters("pin", "password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """On an enrolled tablet names to tap, then the PIN; elsewhere, or by choice, sign-in name and password."""
    asked = cast(Request, request)
    if asked.tablet is None or "password" in (request.GET.get("with"), request.POST.get("with")):
        return _with_password(asked)
    if "who" in request.GET or "who" in request.POST:
        return _with_pin(asked)
    return render(request, "records/people/names.html", {"names": operators(), "next": request.GET.get("next", "")})


def _with_password(request: Request) -> HttpResponse:
    form = PasswordSignIn(request.POST or None, initial={"next": request.GET.get("next", "")})
    if request.method == "POST" and form.is_valid():
        person = Person.objects.filter(sign_in=form.cleaned_data["sign_in"]).first()
        if components.check_password(person, form.cleaned_data["password"], request.tablet) and person is not None:
            if person.roles_at(clock.now()):
                sessions.sign_in(request, person, request.tablet, "password")
                return _onward(request, form.cleaned_data["next"])
            form.add_error(None, _("You hold no role at present: ask the administrator."))
            return render(request, "records/people/sign_in.html", {"form": form})
        # One sentence for every reason: a stranger learns no names here.
        form.add_error(None, _("The name or the password is not right. Five wrong tries in ten minutes lock."))
    return render(request, "records/people/sign_in.html", {"form": form})


def _with_pin(request: Request) -> HttpResponse:
    who = request.POST.get("who", request.GET.get("who", ""))
    person = next((one for one in operators() if str(one.id) == who), None)
    if person is None:
        messages.warning(request, _("Tap a name of the list."))
        return redirect("records:sign-in")
    back = f"{reverse('records:sign-in')}?{urlencode({'next': request.GET.get('next', '')})}"
    initial = {"who": person.id, "next": request.GET.get("next", "")}
    form = PinSignIn(request.POST or None, initial=initial, out_url=back)
    if request.method == "POST" and form.is_valid():
        if components.check_pin(person, form.cleaned_data["pin"], request.tablet):
            sessions.sign_in(request, person, request.tablet, "PIN")
            return _onward(request, form.cleaned_data["next"])
        form.add_error("pin", components.wrong_words("PIN", person, request.tablet))
    return render(request, "records/people/pin.html", {"form": form, "who": person})


def _onward(request: HttpRequest, wanted: str) -> HttpResponse:
    """To the page that was asked for, if it is ours."""
    ours = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, require_https=request.is_secure())
    return HttpResponseRedirect(wanted if wanted and ours else reverse("records:home"))


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Forget who is here."""
    sessions.sign_out(request)
    return redirect("records:sign-in")


@require_POST
def lock(request: HttpRequest) -> HttpResponse:
    """Lock at once; the page that comes next asks for the PIN or password."""
    sessions.lock(request.session)
    return redirect("records:home")


@never_cache
@sensitive_post_parameters("secret", "again")
@require_http_methods(["GET", "HEAD", "POST"])
def new_secret(request: HttpRequest, token: str) -> HttpResponse:
    """The link of a reset, or of a new account: choose a PIN or password, once."""
    try:
        person, kind = credentials.open_link(token)
    except Refused as refused:
        return render(request, "records/people/link_gone.html", {"sentence": refused.sentence}, status=410)
    form = NewSecret(request.POST or None, kind=kind)
    if request.method == "POST" and form.is_valid():
        try:
            credentials.use_link(token, form.cleaned_data["secret"])
        except Refused as refused:
            form.refuse(Refused(refused.sentence, "secret"))
        else:
            messages.success(request, _("Kept. You sign once a supervisor has confirmed who you are."))
            return redirect("records:sign-in")
    return render(request, "records/people/new_secret.html", {"form": form, "who": person, "kind": kind})


@require_http_methods(["GET", "HEAD", "POST"])
def tablet_open(request: HttpRequest, token: str) -> HttpResponse:
    """The link that makes a browser an enrolled tablet; it works until the tablet is withdrawn."""
    tablet = tablet_of(token)
    if tablet is None:
        sentence = _("This link opens no tablet: it was withdrawn, or the link is cut short.")
        return render(request, "records/people/link_gone.html", {"sentence": sentence}, status=410)
    if request.method == "POST":
        sessions.sign_out(request)
        response = redirect("records:sign-in")
        sessions.set_tablet_cookie(response, token)
        return response
    return render(request, "records/people/tablet_open.html", {"tablet": tablet})
