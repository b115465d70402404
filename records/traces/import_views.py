"""A recorder's file: sent, looked at, kept. Nothing is written before it was looked at, and looking writes nothing."""

from __future__ import annotations

from typing import Any, cast
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.process.said import again
from plant.process.trace_file import Mapping
from records.deviations.errors import Refused
from records.flow.pages import no_plan, now_and_plan
from records.people.middleware import Request
from records.people.plans import InForce
from records.traces import importing, incoming, kept_files
from records.traces.forms import FileForm, MapForm
from records.traces.models import TraceFile, TraceSource, TraceUpload
from records.traces.preview import preview

page = require_http_methods(["GET", "HEAD", "POST"])


@page
def trace_import(request: HttpRequest) -> HttpResponse:
    """A file is sent; its form is told from its bytes at once, and refused at once where it has none."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    form = FileForm(request.POST or None, request.FILES or None) if request.method == "POST" else FileForm()
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["file"]
        upload = None
        try:
            upload = incoming.receive(cast(Request, request).actor, sent.name or "", sent.chunks())
            importing.look_at(upload)
            return redirect("records:trace-look", upload=upload.id)
        except Refused as refusal:
            form.add_error("file", refusal.sentence)
            if upload is not None:
                incoming.forget(upload)
    files = kept_files.latest(in_force)
    return render(
        request, "records/traces/import.html", {"form": form, "files": files}, status=422 if form.errors else 200
    )


@page
def trace_look(request: HttpRequest, upload: UUID) -> HttpResponse:
    """The file before it is kept: what its columns are, its rows as understood, its pictures. POST keeps it."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    found = TraceUpload.objects.filter(id=upload).first()
    if found is None:
        raise Http404(_("This file is no longer here: send it again."))
    try:
        form = _map_form(request, found, in_force)
    except Refused as refusal:
        messages.warning(request, refusal.sentence)
        return redirect("records:trace-import")
    to_choose = [again(one, _) for one in form.shape.to_choose]
    shown: dict[str, Any] = {"upload": found, "form": form, "looked": None, "to_choose": to_choose}
    if form.is_bound and form.is_valid():
        mapping = form.cleaned_data["mapping"]
        try:
            if request.method == "POST":
                return _keep(request, found, form, mapping)
            shown["looked"] = _looked(found, mapping, in_force)
        except Refused as refusal:
            form.add_error(refusal.field if refusal.field in form.fields else None, refusal.sentence)
    elif not form.is_bound:
        shown["looked"] = _remembered(found, form, in_force)
    return render(request, "records/traces/look.html", shown, status=422 if form.is_bound and form.errors else 200)


def _map_form(request: HttpRequest, upload: TraceUpload, in_force: InForce) -> MapForm:
    shape = importing.look_at(upload)
    source = importing.remembered(shape)
    given = request.POST if request.method == "POST" else request.GET
    return MapForm(
        given or None,
        shape=shape,
        known=importing.known_instruments(in_force),
        mapping=Mapping.from_plain(source.mapping) if source else None,
        source=source.name if source else "",
        sources=list(TraceSource.objects.order_by("name").values_list("name", flat=True)[:200]),
    )


def _remembered(upload: TraceUpload, form: MapForm, in_force: InForce) -> Any:
    """What a file of a source that is known comes to, without being asked; None where something has to be said."""
    said = MapForm(
        {name: field.initial if field.initial is not None else "" for name, field in form.fields.items()}
        | {"form_id": form["form_id"].value()},
        shape=form.shape,
        known=list(form.known.values()),
        sources=form.sources,
    )
    try:
        return _looked(upload, said.cleaned_data["mapping"], in_force) if said.is_valid() else None
    except Refused:
        return None  # said again, beside its field, once a person looks


def _looked(upload: TraceUpload, mapping: Mapping, in_force: InForce) -> Any:
    importing.check_units(mapping, in_force)
    parsed = importing.parse(upload, mapping, in_force)
    return {
        "preview": preview(parsed, importing.known_instruments(in_force), in_force),
        "before": importing.found_before(upload, mapping),
    }


def _keep(request: HttpRequest, upload: TraceUpload, form: MapForm, mapping: Mapping) -> HttpResponse:
    by, said = cast(Request, request).actor, form.cleaned_data
    row, known = importing.import_file(by, upload, mapping, said["source"], said["form_id"])
    incoming.forget(upload)
    if known:
        messages.info(request, _("This file was kept before, read the same way: nothing was added."))
    else:
        kept_files.judge(row)
        messages.success(request, _("Kept and judged."))
    return redirect("records:trace-file", number=row.number)


@require_safe
def trace_file(request: HttpRequest, number: int) -> HttpResponse:
    """A kept file: how it was read, what came of it, what was found in it."""
    _now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    row = TraceFile.objects.filter(number=number).first()
    if row is None:
        raise Http404(_("No trace file has that number."))
    return render(request, "records/traces/file.html", {"told": kept_files.told(row, in_force), "file": row})
