"""Amending a reading: the same form again, why, and a fresh signature. Who may depends on whether its day is closed."""

from __future__ import annotations

from typing import Any, cast

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django import forms
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from plant.forms.layout import ActionBar
from records.checks import asking as asks
from records.checks import saying
from records.checks.actions import DifferentContent, amend_reading, may_amend
from records.checks.asking import Asking
from records.checks.entry import LONGEST_TEXT, Nonsense, ReadingData
from records.checks.forms import ReadingForm
from records.checks.models import Reading
from records.checks.queries import superseded
from records.checks.round_views import sent
from records.deviations.errors import Refused
from records.flow.pages import now_and_plan
from records.ledger.files import FileRefused
from records.people.components import signature_actor
from records.people.forms import SignatureFields
from records.people.middleware import Request
from records.review.queries import is_closed


class Signature(SignatureFields):
    """The reason and both components, beside the reading's own fields."""

    amend_reason = forms.CharField(
        label="", required=True, max_length=LONGEST_TEXT, widget=forms.Textarea(attrs={"rows": 2})
    )
    use_required_attribute = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amend_reason"].label = _("Why is it amended?")
        self.fields["amend_reason"].error_messages["required"] = _("Write why it is amended.")

    @property
    def helper(self) -> FormHelper:
        """Only its fields; the page has one bar of acts."""
        helper = FormHelper()
        helper.form_tag = False
        helper.layout = Layout(
            *self.fields, ActionBar(_("Amend, signed"), _("Leave it as it is"), out_url=self.out_url)
        )
        return helper


class Amendment(ReadingForm):
    """The reading's form with what stands in it; the acts stand under the signature."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["observed_at"].label = _("Read at")
        self.fields["observed_at"].help_text = _("Time at the plant.")

    @property
    def helper(self) -> FormHelper:
        """The answer and the rest, without acts."""
        helper = FormHelper()
        helper.form_tag = False
        helper.layout = Layout(
            "form_id", "device_offset_ms", Div(*self.answers, *self.questions, *self.rest, css_class="amend-fields")
        )
        return helper


def initial_of(reading: Reading, asking: Asking) -> dict[str, Any]:
    """What stands, to begin an amendment with."""
    answers = {True: "yes", False: "no", None: ""}
    usual = asking.usual.code if asking.usual else ""
    places = {f"place_{at}": reading.places.get(one, "") for at, one in enumerate(asking.monitoring.answer.places)}
    return {
        "typed": reading.typed,
        "typed_second": reading.typed_second,
        "unit": reading.unit or asking.unit,
        "agitator_ran": answers[reading.agitator_ran],
        "bulb_covered": answers[reading.bulb_covered],
        "instrument": "" if reading.instrument == usual else reading.instrument,
        "observed_at": reading.observed_at,
        "late_reason": reading.late_reason,
        "paper_form": reading.paper_form,
        "note": reading.note,
        **places,
    }


@sensitive_post_parameters("signer_secret")
@require_http_methods(["GET", "HEAD", "POST"])
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """Amend a reading: both stay, the old one struck through."""
    asked = cast(Request, request)
    reading = Reading.objects.filter(number=number).first()
    if reading is None:
        raise Http404(_("There is no such reading."))
    asking = asks.of_reading(reading)
    closed = is_closed(reading.observed_at)
    newer = superseded(reading)
    why_not = may_amend(asked.actor, reading, closed)
    if asking is None:
        why_not = _("This was asked for by nobody. Add a note to it, or enter another reading.")
    if newer is not None:
        why_not = _("This reading has been amended already. Amend the newer one.")
    if why_not or asking is None:
        context = {"reading": reading, "why_not": why_not, "newer": newer}
        return render(request, "records/review/amend_refused.html", context, status=403)
    now, _plan = now_and_plan()
    initials = asked.actor.initials
    data = sent(request)
    form = Amendment(
        data,
        request.FILES or None,
        asking=asking,
        now=now,
        initials=initials,
        initial=initial_of(reading, asking),
    )
    back = reverse("records:reading", args=[number])
    signature = Signature(data, request=asked, out_url=back)
    if request.method == "POST" and form.is_valid() & signature.is_valid():
        saved = _amended(asked, reading, form, signature, closed)
        if saved is not None:
            return redirect("records:reading", number=saved.number)
    context = {
        "reading": reading,
        "words": saying.value_words(reading),
        "asking": asking,
        "form": form,
        "signature": signature,
        "closed": closed,
        "zone": asking.in_force.zone,
    }
    status = 422 if form.errors or signature.errors else 200
    return render(request, "records/review/amend.html", context, status=status)


def _amended(
    request: Request, reading: Reading, form: Amendment, signature: Signature, closed: bool
) -> Reading | None:
    try:
        by = signature_actor(request, signature)
        reason = signature.cleaned_data["amend_reason"]
        return amend_reading(by, reading.number, _data(form, reading), reason, day_closed=closed).reading
    except (Nonsense, Refused) as refused:
        if refused.field in signature.fields:
            signature.add_error(refused.field, str(refused.sentence))
        else:
            form.refuse(refused)
    except FileRefused as refused:
        form.add_error("photo", str(refused))
    except DifferentContent as different:
        form.saved_before = different.saved  # type: ignore[attr-defined]
        form.add_error(None, _("This form was saved before with other content. What was saved stands."))
    return None


def _data(form: Amendment, reading: Reading) -> ReadingData:
    """What was typed; a photo that is not sent again stays the reading's."""
    data = form.data_of()
    # The box shows minutes: left as it was, it means the very moment that was kept.
    same_minute = data.observed_at == reading.observed_at.replace(second=0, microsecond=0)
    return ReadingData(
        **{
            **{name: getattr(data, name) for name in data.__dataclass_fields__},
            "file": data.file or reading.file,
            "observed_at": None if same_minute else data.observed_at,
        }
    )
