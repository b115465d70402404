"""What a person may type about an outage."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout, Row
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import ActionBar
from records.deviations.forms import lines, one_of
from records.deviations.words import in_words
from records.flow.fields import PlantTime
from records.people.forms import Form
from records.people.plans import InForce
from records.review.outage_data import KINDS


class OutageForm(Form):
    """An outage that lasts, or one that is over."""

    main = gettext_lazy("Open it")

    def __init__(self, *args: Any, in_force: InForce, now: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["what"] = one_of(_("What was away"), [(one, in_words(one)) for one in KINDS])
        times: dict[str, Any] = {"calendar": in_force.calendar, "now": now}
        self.fields["started_at"] = PlantTime(label=_("Since"), error_messages={"required": _("Enter when.")}, **times)
        self.fields["ended_at"] = PlantTime(
            label=_("Until"), required=False, help_text=_("Leave empty while it still lasts."), **times
        )
        self.fields["text"] = lines(_("What is known of it"), required=False)

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        helper = FormHelper()
        helper.layout = Layout("what", Row("started_at", "ended_at"), "text", ActionBar(self.main))
        return helper

    def clean(self) -> dict[str, Any]:
        """It ends after it began."""
        data = super().clean() or {}
        if data.get("started_at") and data.get("ended_at") and data["ended_at"] <= data["started_at"]:
            self.add_error("ended_at", _("It cannot end before it began."))
        return data


class OutageEndForm(Form):
    """The end of an outage."""

    main = gettext_lazy("It is over")

    def __init__(self, *args: Any, in_force: InForce, now: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ended_at"] = PlantTime(
            label=_("Over since"), calendar=in_force.calendar, now=now, error_messages={"required": _("Enter when.")}
        )
