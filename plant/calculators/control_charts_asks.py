"""What the control chart asks."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import optional_ask
from plant.calculators.working import Ask

ASKS = (
    Ask(
        name="kind",
        label=_("Chart"),
        kind="choice",
        choices=(
            ("individuals", _("individuals and moving range")),
            ("xbar-r", _("means and ranges of samples")),
            ("xbar-s", _("means and standard deviations of samples")),
            ("ewma", _("exponentially weighted moving average")),
            ("cusum", _("cumulative sum")),
        ),
        example="individuals",
    ),
    Ask(
        name="values",
        label=_("Values in their order, one line each"),
        kind="rows",
        columns=(_("value, or the values of one sample with spaces between"),),
        example=(
            "3.52\n3.49\n3.51\n3.50\n3.47\n3.53\n3.50\n3.48\n3.51\n3.49\n3.50\n3.52\n3.51\n3.54\n3.55\n3.53\n"
            "3.56\n3.55\n3.57\n3.61"
        ),
    ),
    Ask(name="unit", label=_("Unit, for the picture"), kind="text", example="% fat", required=False),
    optional_ask(
        "baseline",
        _("Limits from the first so many points"),
        low=2,
        high=500,
        example="12",
        help_=_("Empty: from all of them, which hides changes within them."),
    ),
    Ask(
        name="rules",
        label=_("Run rules"),
        kind="choice",
        choices=(("western electric", _("Western Electric")), ("nelson", _("Nelson"))),
        example="western electric",
    ),
    optional_ask("target", _("Moving average and cumulative sum: target")),
    optional_ask(
        "sigma",
        _("Moving average and cumulative sum: standard deviation of a value"),
        low=0,
    ),
    optional_ask("weight", _("Moving average: weight of the newest value"), low=0.01, high=1),
    optional_ask("k", _("Cumulative sum: k, in standard deviations"), low=0, high=5),
    optional_ask("h", _("Cumulative sum: h, in standard deviations"), low=0.1, high=50),
)
