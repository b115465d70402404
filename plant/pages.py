"""What every page shares: language, navigation, the headers that keep foreign script out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation

GetResponse = Callable[[HttpRequest], HttpResponse]


class LanguageOfThePerson:
    """Speak the language kept in the session (set at sign-in), else the browser's if we have it."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        chosen = request.session.get("language") or translation.get_language_from_request(request)
        known = {code for code, _ in settings.LANGUAGES}
        with translation.override(chosen if chosen in known else settings.LANGUAGE_CODE):
            request.LANGUAGE_CODE = translation.get_language() or settings.LANGUAGE_CODE
            return self.get_response(request)


class PlainRefusals:
    """What no page takes gets a plain page too: a body beyond bounds, unread, and a method that an address lacks."""

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if length.isdecimal() and int(length) > settings.LARGEST_REQUEST:
            return render(request, "400.html", {"too_large": True}, status=413)
        response = self.get_response(request)
        if response.status_code == 405 and not response.content:
            response.content = render(request, "400.html").content  # its Allow header stays
        return response


class PrivatePages:
    """No cache between us and the person keeps a page, and a browser asks again before it shows one from its own.

    Not `no-store`: the back button must still find a half-filled form.
    """

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Cache-Control", "private, no-cache")
        return response


class ContentSecurityPolicy:
    """Only our own scripts, styles, fonts and pictures; pages are never framed."""

    POLICY = (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    )

    def __init__(self, get_response: GetResponse) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Content-Security-Policy", self.POLICY)
        return response


def context(request: HttpRequest) -> dict[str, Any]:
    """Names that base.html uses."""
    person = getattr(request, "person", None)
    return {
        "person": person,
        "person_name": person.name if person else "",
        "sign_out_url": reverse("records:sign-out") if person else "",
        "lock_url": reverse("records:lock") if person else "",
        "nav": getattr(request, "nav", []),
        "installation": getattr(request, "installation", None),
        "zone": getattr(request, "zone", ""),
        "idle_lock_minutes": settings.IDLE_LOCK_MINUTES,
    }
