"""Held product: what is held, proposing what becomes of it, the second signature, holding by hand."""

from __future__ import annotations

from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from records.deviations import holds as acts
from records.deviations import queries
from records.deviations.forms import DispositionForm, HoldForm, SecondForm
from records.deviations.models import Disposition, Hold
from records.deviations.words import in_words
from records.flow.queries import labels_of
from records.ledger import files
from records.ledger.actions import act
from records.ledger.models import FileKept
from records.people.components import signature_actor
from records.people.middleware import Request
from records.people.plans import plan_in_force
from records.people.refused import Refused
from records.review import deciding, deviation_data, hold_data
from records.review.common import by_of, may, page, paged, show, signed


@require_safe
def holds(request: HttpRequest) -> HttpResponse:
    """What is on hold, oldest first, or every hold."""
    which = "all" if request.GET.get("show") == "all" else "open"
    found = queries.open_holds() if which == "open" else Hold.objects.order_by("-number")
    one_page = paged(cast(Any, found), request)
    now = clock.now()
    return show(
        request,
        "records/deviations/holds.html",
        which=which,
        filters=[("open", _("on hold")), ("all", _("all"))],
        listed=one_page,
        rows=deviation_data.held_rows(list(one_page.object_list), now),
        may_hold=may(request, "records:hold-new"),
    )


def _hold(number: int) -> Hold:
    found = Hold.objects.filter(number=number).first() if number < 2**63 else None
    if found is None:
        raise Http404
    return found


@require_safe
def hold(request: HttpRequest, number: int) -> HttpResponse:
    """One hold: lot, since, why, where the product is now, what was proposed and signed."""
    found, now = _hold(number), clock.now()
    (row,) = deviation_data.held_rows([found], now)
    return show(
        request,
        "records/deviations/hold.html",
        row=row,
        one=found,
        wanted=deciding.items(found, row.dispositions),
        said=[(each, in_words(each.what)) for each in row.dispositions],
        where=hold_data.where_now(found, now),
        others=queries.open_holds_of(found.lot).exclude(number=number),
        caution=hold_data.bar_words(found),
        may_dispose=may(request, "records:disposition-new") and row.lift is None,
    )


@signed
@page
def propose(request: HttpRequest, number: int) -> HttpResponse:
    """Propose what becomes of held product, signed; it takes effect with the second signature."""
    found, asked = _hold(number), cast(Request, request)
    (row,) = deviation_data.held_rows([found], clock.now())
    if row.lift is not None:
        messages.info(request, _("This hold is lifted already."))
        return redirect("records:hold", number)
    form = DispositionForm(request.POST or None, request.FILES or None, request=asked, hold=found)
    if request.method == "POST" and form.is_valid():
        try:
            by = signature_actor(asked, form)
            what, reason = form.cleaned_data["what"], form.cleaned_data["reason"].strip()
            if what == acts.REGULATOR and not form.letter_bytes:
                raise Refused(_("Attach the regulator's letter."), "letter")
            _propose(by, found, what, reason, form)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Proposed and signed. It takes effect with another person's signature."))
            return redirect("records:hold", number)
    return show(
        request,
        "records/deviations/propose.html",
        wrong=bool(form.errors),
        row=row,
        one=found,
        form=form,
        caution=hold_data.bar_words(found),
        others=queries.open_holds_of(found.lot).exclude(number=number),
    )


def _propose(by: Any, found: Hold, what: str, reason: str, form: DispositionForm) -> Disposition:
    """The letter's bytes are on disk before the act; its entry and the disposition stand or fall together."""
    if not form.letter_bytes:
        return acts.propose_disposition(by, found, what, reason)
    files.put(form.letter_bytes)
    with act(by) as a:
        name = form.cleaned_data["letter"].name
        kept = files.keep(a, form.letter_bytes, name, form.letter_mime)
        return acts.propose_disposition(by, found, what, reason, kept.sha256)


@signed
@page
def second(request: HttpRequest, number: int) -> HttpResponse:
    """The second signature, by somebody else: from then on the hold is lifted as the disposition says."""
    found, asked = _hold(number), cast(Request, request)
    (row,) = deviation_data.held_rows([found], clock.now())
    newest = row.waiting
    if newest is None:
        messages.info(request, _("There is nothing to sign here."))
        return redirect("records:hold", number)
    form = SecondForm(request.POST or None, request=asked, initial={"disposition": newest.number})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data["disposition"]
        read = Disposition.objects.filter(number=given, hold=number).first() if 0 < given < 2**63 else None
        try:
            by = signature_actor(asked, form)
            if read is None:
                raise Refused(_("Another disposition was proposed since. Read that one first."))
            acts.sign_disposition(by, read)
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("Signed. The hold is lifted: %(what)s.") % {"what": in_words(read.what)})
            return redirect("records:hold", number)
    return show(
        request,
        "records/deviations/second.html",
        wrong=bool(form.errors),
        row=row,
        one=found,
        newest=newest,
        what=in_words(newest.what),
        form=form,
        own=newest.by_id == by_of(request).person_id,
        caution=hold_data.bar_words(found),
        where=hold_data.where_now(found, clock.now()),
    )


@signed
@page
def hold_new(request: HttpRequest) -> HttpResponse:
    """Hold a lot by hand: all of it, or what is there now."""
    asked, now = cast(Request, request), clock.now()
    lots = hold_data.lots_in_plant(now)
    form = HoldForm(request.POST or None, request=asked, choices=[(key, words) for key, words, _code, _lot in lots])
    if request.method == "POST" and form.is_valid():
        _key, _words, vessel, lot = next(one for one in lots if one[0] == form.cleaned_data["lot"])
        in_force = plan_in_force(now)
        label = labels_of([lot.id], in_force)[lot.id] if in_force else lot.product_name
        since = now if form.cleaned_data["reach"] == "now" else lot.observed_at
        try:
            by = signature_actor(asked, form)
            made = acts.hold_by_hand(
                by, lot=lot.id, lot_label=label, vessel=vessel, since_at=since, reason=form.cleaned_data["reason"]
            )
        except Refused as refused:
            form.refuse(refused)
        else:
            messages.success(request, _("On hold. What it flows into is held too."))
            return redirect("records:hold", made.number)
    return show(request, "records/deviations/hold_new.html", wrong=bool(form.errors), form=form, lots=lots)


@require_safe
def letter(request: HttpRequest, number: int) -> HttpResponse:
    """The regulator's letter of a disposition, as it was kept."""
    said = Disposition.objects.filter(number=number).exclude(letter="").first() if number < 2**63 else None
    kept = FileKept.objects.filter(sha256=said.letter).first() if said else None
    if kept is None:
        raise Http404
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as error:
        raise Http404(str(error)) from error
    answer = HttpResponse(data, content_type=kept.mime)
    answer.headers["Content-Disposition"] = f'attachment; filename="letter-{number}.{kept.mime.rpartition("/")[2]}"'
    answer.headers["X-Content-Type-Options"] = "nosniff"
    return answer
