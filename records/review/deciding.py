"""What is missing before anybody can decide what becomes of held product: a list that ticks itself from the records.

A full list is no permission: it says that what this book asks for is written, not what it means.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from records.checks.models import Reading
from records.checks.queries import governing
from records.deviations import queries
from records.deviations.models import Deviation, DeviationCause, Disposition, Hold
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing as verdicts_of

MOST_READINGS = 200


@dataclass(frozen=True, slots=True)
class Item:
    """One thing wanted: whether it is there, what the records say of it, and where it is written."""

    what: str
    done: bool
    said: str = ""
    address: str = ""


def items(hold: Hold, dispositions: Sequence[Disposition]) -> list[Item]:
    """What a hold still lacks, in the order in which it is usually done. A few queries, whatever the past."""
    found: list[Item] = []
    deviation = Deviation.objects.filter(number=hold.deviation).first() if hold.deviation else None
    if deviation is not None:
        found += _again_in_limits(deviation) + _parts(deviation)
    others = queries.open_holds_of(hold.lot).exclude(number=hold.number).count()
    if others:
        said = _("%(count)d more on the same product; each is decided by itself") % {"count": others}
        found.append(Item(_("other holds lifted"), False, said, reverse("records:holds")))
    newest = dispositions[-1] if dispositions else None
    propose = reverse("records:disposition-new", args=[hold.number])
    found.append(
        Item(
            _("a disposition proposed, with its reason"),
            newest is not None,
            _("by %(who)s") % {"who": newest.by_name} if newest else "",
            "" if newest else propose,
        )
    )
    lifted = queries.is_lifted(hold.number)
    sign = reverse("records:disposition-sign", args=[hold.number]) if newest and not lifted else ""
    found.append(Item(_("the second signature, another person's"), lifted, "", sign))
    return found


def _parts(deviation: Deviation) -> list[Item]:
    written = queries.parts_written(deviation.number)
    address = reverse("records:deviation", args=[deviation.number])
    found = []
    for key, words in queries.parts_wanted(deviation).items():
        last = written[key][-1] if key in written else None
        said = _("by %(who)s") % {"who": last.by_name} if last else ""
        found.append(Item(words, last is not None, said, "" if last else address))
    return found


def _again_in_limits(deviation: Deviation) -> list[Item]:
    """The excursion's end, where readings caused it: the first of two in a row that are in limits (foundations)."""
    causes = DeviationCause.objects.filter(deviation=deviation.number, cause_kind=Reading.KIND)
    numbers = list(causes.values_list("cause_number", flat=True))
    if not numbers:
        return []
    verdicts = Verdict.objects.filter(subject_kind=Reading.KIND, subject_number__in=numbers)
    keys = set(verdicts.values_list("monitoring_key", flat=True))
    last = Reading.objects.filter(number__in=numbers).order_by("-observed_at").first()
    if last is None or not keys:
        return []
    after = governing(
        Reading.objects.filter(
            monitoring_key__in=keys, subject=deviation.subject, observed_at__gt=last.observed_at
        )
    )[:MOST_READINGS]
    outcomes = verdicts_of(Reading.KIND, [one.number for one in after])
    good = [one.number in outcomes and outcomes[one.number].outcome in GOOD for one in after]
    pair = next((at for at in range(len(good) - 1) if good[at] and good[at + 1]), None)
    what = _("two readings in a row in limits again")
    if pair is None:
        said = _("%(count)d since the last cause") % {"count": sum(good)}
        return [Item(what, False, said, reverse("records:deviation", args=[deviation.number]))]
    first = after[pair]
    said = _("entry %(number)d") % {"number": first.number}
    return [Item(what, True, said, reverse("records:reading", args=[first.number]))]
