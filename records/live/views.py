"""The page of live recorders: who speaks, who is silent, what was refused, the feeds and the gateways."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from records.flow.pages import no_plan, now_and_plan, saved_by
from records.live import feeds, gateways, silence
from records.live.forms import FeedForm, GatewayForm
from records.live.models import FeedAct, LiveFeed, RefusedMessage, StagedSample
from records.people.middleware import Request
from records.people.rights import RIGHTS
from records.traces.models import TraceBlock
from records.traces.moments import to_moment

MOST_REFUSED = 20
MOST_ACTS = 20
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Line:
    """A feed with what it said last; `form_id` for taking it off."""

    feed: LiveFeed
    value: str
    at: datetime | None
    silent: bool
    allowed_min: int
    form_id: uuid.UUID


@require_safe
def live(request: HttpRequest) -> HttpResponse:
    """The feeds with their last sample, what was refused, the gateways."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    heard = {one.row.key: one for one in silence.heard(in_force)}
    lines = []
    for feed in LiveFeed.objects.order_by("instrument", "name"):
        value, at = _last(feed.instrument)
        one = heard.get(feed.instrument)
        is_silent, allowed = bool(one and one.silent_at(now)), one.row.silent_min if one else 0
        lines.append(Line(feed, value, at, is_silent, allowed, uuid.uuid4()))
    context = {
        "lines": lines,
        "staged": StagedSample.objects.count(),
        "refused": RefusedMessage.objects.order_by("-id")[:MOST_REFUSED],
        "acts": FeedAct.objects.order_by("-number")[:MOST_ACTS],
        "gateways": gateways.gateways(),
        "may_change": _may(request, "records:live-feed"),
        "may_enroll": _may(request, "records:live-gateway"),
        "form_id": uuid.uuid4(),
        "zone": in_force.zone,
    }
    return render(request, "records/live/live.html", context)


def _last(instrument: str) -> tuple[str, datetime | None]:
    row = StagedSample.objects.filter(instrument=instrument).order_by("-at_ms", "-id").first()
    if row is not None:
        return f"{row.text} {'' if row.unit == '1' else row.unit}".strip(), to_moment(row.at_ms)
    block = TraceBlock.objects.filter(instrument=instrument).order_by("-hour", "-last_at").first()
    return ("", block.last_at) if block is not None else ("", None)


@page
def feed(request: HttpRequest) -> HttpResponse:
    """A name that samples come under, and the instrument that it stands for."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    form = FeedForm(request.POST if request.method == "POST" else None, in_force=in_force, now=now)
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        row = saved_by(
            form,
            lambda: feeds.set_up(_by(request), said["name"], said["instrument"], said["unit"], said["form_id"]),
        )
        if row is not None:
            messages.success(request, _("Samples under this name are kept from now on."))
            return redirect("records:live")
    return _show(request, form, _("A live feed"))


@require_POST
def feed_off(request: HttpRequest, feed: uuid.UUID) -> HttpResponse:
    """Take a feed off: what comes under its name is refused from now on; what came stays."""
    feeds.take_off(_by(request), feed, _form_id(request))
    messages.success(request, _("Taken off. What it brought stays."))
    return redirect("records:live")


@page
def gateway(request: HttpRequest) -> HttpResponse:
    """Enrol a gateway; its token is shown on the answer and nowhere else."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    form = GatewayForm(request.POST if request.method == "POST" else None, in_force=in_force, now=now)
    if request.method == "POST" and form.is_valid():
        made: list[str] = []

        def enroll() -> Any:
            said = form.cleaned_data
            row, token = gateways.enroll(_by(request), said["name"], said["instruments"], said["form_id"])
            made.append(token)
            return row

        row = saved_by(form, enroll)
        if row is not None:
            context = {"gateway": row, "token": made[0], "address": request.build_absolute_uri("/intake/")}
            return render(request, "records/live/token.html", context)
    return _show(request, form, _("A gateway"))


@require_POST
def revoke(request: HttpRequest, gateway: uuid.UUID) -> HttpResponse:
    """From now on the gateway's token opens nothing."""
    form_id = _form_id(request)
    if any(one.id == gateway for one in gateways.gateways()):
        gateways.revoke(_by(request), gateway, form_id)
        messages.success(request, _("Revoked: its token opens nothing any more."))
    return redirect("records:live")


def _show(request: HttpRequest, form: Any, heading: str) -> HttpResponse:
    status = 422 if form.errors else 200
    context = {"form": form, "heading": heading, "zone": form.in_force.zone}
    return render(request, "records/live/form.html", context, status=status)


def _form_id(request: HttpRequest) -> uuid.UUID:
    """The id of a form of one button; a new one for nonsense."""
    try:
        return uuid.UUID(request.POST.get("form_id", ""))
    except ValueError:
        return uuid.uuid4()


def _by(request: HttpRequest) -> Any:
    return cast(Request, request).actor


def _may(request: HttpRequest, route: str) -> bool:
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


