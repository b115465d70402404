"""What the pages say of the workshop's records: each as a sentence, and one with all its facts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from plant.kept_words import kept_word
from plant.process.units import plain
from records.judging.models import Verdict
from records.judging.queries import all_verdicts
from records.workshop.models import (
    Calibration,
    EquipmentTest,
    HoldingTest,
    Kept,
    RegulatorNotice,
    SealAct,
    WorkDone,
)
from records.workshop.parts import part_words
from records.workshop.words import in_words

KINDS: tuple[type[Kept], ...] = (WorkDone, EquipmentTest, HoldingTest, SealAct, RegulatorNotice, Calibration)
Facts = list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Line:
    """One record in a list: its kind and sentence, whether it was amended since, and the verdict that governs."""

    row: Kept
    kind: str
    words: str
    struck: bool
    outcome: str


def find(number: int) -> Kept | None:
    """The workshop's record of a ledger number."""
    if not 0 < number < 2**63:
        return None
    for model in KINDS:
        found: Kept | None = model._default_manager.filter(number=number).first()
        if found is not None:
            return found
    return None


def lines(place: str = "", most: int = 200) -> list[Line]:
    """The records of a place, or of all of them, newest first."""
    rows: list[Kept] = []
    for model in KINDS:
        found = model._default_manager.order_by("-observed_at", "-number")
        rows += list((found.filter(place=place) if place else found)[:most])
    return as_lines(sorted(rows, key=lambda one: (one.observed_at, one.number), reverse=True)[:most])


def as_lines(rows: Sequence[Kept]) -> list[Line]:
    """Records as lines, with what amended them and their verdicts."""
    numbers = [one.number for one in rows]
    amended: set[int] = set()
    for model in KINDS:
        found = model._default_manager.filter(amends__in=numbers).values_list("amends", flat=True)
        amended.update(one for one in found if one is not None)
    verdicts = all_verdicts(HoldingTest.KIND, numbers)
    return [
        Line(
            one,
            in_words(one.KIND),
            sentence(one),
            one.number in amended or one.void,
            verdicts[one.number][-1].outcome if one.number in verdicts else "",
        )
        for one in rows
    ]


def successor(row: Kept) -> Kept | None:
    """The entry that amended this one."""
    found: Kept | None = type(row)._default_manager.filter(amends=row.number).first()
    return found


def verdicts_of(row: Kept) -> list[Verdict]:
    """Every verdict of a test, the oldest first."""
    return all_verdicts(row.KIND, [row.number]).get(row.number, [])


def sentence(row: Kept) -> str:
    """One line of what it was."""
    return _SENTENCES[row.KIND](row)


def _work(row: Any) -> str:
    return f"{row.part_words}: {row.what}"


def _test(row: Any) -> str:
    return f"{row.test_words}: {row.results}; {_('met') if row.met else _('not met')}"


def _holding(row: Any) -> str:
    return f"{row.set_up_name}: {row.seconds_typed} s ({in_words(row.medium)})"


def _seal(row: Any) -> str:
    said = f"{row.seal_place_words}: {in_words(row.what)}"
    return f"{said} ({row.number_seen or row.number_known})" if row.number_seen or row.number_known else said


def _notice(row: Any) -> str:
    return _("%(what)s, of entry %(number)s: %(by)s to %(whom)s, %(how)s") % {
        "what": in_words(row.what),
        "number": row.subject_number,
        "by": row.told_by,
        "whom": row.told_whom,
        "how": in_words(row.how),
    }


def _calibration(row: Any) -> str:
    said = _("within its tolerance") if row.within else _("outside its tolerance")
    return _("%(instrument)s as found off by %(error)s %(unit)s: %(said)s") % {
        "instrument": row.instrument,
        "error": plain(row.worst_error),
        "unit": row.unit,
        "said": said,
    }


_SENTENCES = {
    WorkDone.KIND: _work,
    EquipmentTest.KIND: _test,
    HoldingTest.KIND: _holding,
    SealAct.KIND: _seal,
    RegulatorNotice.KIND: _notice,
    Calibration.KIND: _calibration,
}


# --- one record with all its facts


def facts(row: Kept) -> Facts:
    """Label and value of everything that a record says; what is empty is left out."""
    found = _FACTS[row.KIND](row)
    found += [(_("Note"), row.note), (_("Amended because"), row.amend_reason)]
    return [(label, str(value)) for label, value in found if value not in ("", None)]


def _by(row: Any) -> str:
    return _("%(who)s, for the regulator") % {"who": row.tester} if row.by_regulator else row.tester


def _work_facts(row: Any) -> list[tuple[str, Any]]:
    broken = "; ".join(f"{seal_name(one['place'])} {one['number']}" for one in row.seals_broken)
    renewed = "; ".join(f"{seal_name(one['place'])} {one['number']}, {one['by']}" for one in row.seals_renewed)
    return [
        (_("Part"), row.part_words),
        (_("What was done"), row.what),
        (_("By whom"), row.worker),
        (_("Seals broken"), broken or _("none")),
        (_("Seals renewed"), renewed or _("none")),
        (_("Tools counted"), _counted(row.tools_before, row.tools_after)),
        (_("Parts counted"), _counted(row.parts_before, row.parts_after)),
        (_("On the counts"), row.count_note),
        (_("Surfaces that touch product"), _("opened") if row.opened else _("not opened")),
        (_("After it"), ", ".join(_done(row)) or _not_done(row)),
        (_("To be tested again before forward flow"), "; ".join(row.tests_words) or _("none of the list")),
    ]


def _done(row: Any) -> list[str]:
    return [words for ticked, words in ((row.cleaned, _("washed")), (row.sanitized, _("sanitized"))) if ticked]


def _not_done(row: Any) -> str:
    return _("neither washed nor sanitized, by this entry") if row.opened else ""


def _counted(before: int | None, after: int | None) -> str:
    if before is None:
        return _("not counted")
    return _("%(before)s before, %(after)s after") % {"before": before, "after": after}


def seal_name(key: str) -> str:
    """A seal's place in words."""
    return part_words(key)


def _test_facts(row: Any) -> list[tuple[str, Any]]:
    return [
        (_("Test"), row.test_words),
        (_("Instrument"), row.instrument),
        (_("Numbers found"), row.results),
        (_("Met"), _("yes") if row.met else _("no")),
        (_("Tested by"), _by(row)),
        (_("Rule"), f"{row.clause} ({row.rule}, {kept_word(row.basis)})" if row.clause else row.rule),
    ]


def _holding_facts(row: Any) -> list[tuple[str, Any]]:
    return [
        (_("Set-up"), f"{row.set_up_name}, {row.set_point} {row.set_point_unit}"),
        (_("Approved for"), ", ".join(kept_word(one) for one in row.classes)),
        (_("Forward"), f"{row.seconds_typed} s"),
        (_("Diverted"), f"{row.diverted_typed} s" if row.diverted_typed else ""),
        (_("Each try"), f"{', '.join(row.tries)} s" if row.tries else ""),
        (_("Judged, the least of them"), f"{plain(row.seconds)} s"),
        (_("What ran"), in_words(row.medium)),
        (_("Homogenizer in the test"), in_words(row.homogenizer)),
        (_("Pump rate"), f"{row.pump_rate_typed} {row.pump_rate_unit}" if row.pump_rate_typed else ""),
        (_("Tested by"), _by(row)),
    ]


def _seal_facts(row: Any) -> list[tuple[str, Any]]:
    return [
        (_("Seal at"), row.seal_place_words),
        (_("What"), in_words(row.what)),
        (_("Number on the seal"), row.number_seen),
        (_("Number by the book before"), row.number_known),
        (_("Set by"), _("%(who)s, for the regulator") % {"who": row.sealed_by} if row.by_regulator else row.sealed_by),
        (_("Work"), _("entry %(number)s") % {"number": row.work} if row.work else ""),
    ]


def _notice_facts(row: Any) -> list[tuple[str, Any]]:
    return [
        (_("What"), in_words(row.what)),
        (_("Of"), f"{in_words(row.subject_kind)}, {_('entry %(number)s') % {'number': row.subject_number}}"),
        (_("By whom"), row.told_by),
        (_("Whom"), row.told_whom),
        (_("How"), in_words(row.how)),
        (_("What the regulator answered"), row.answer),
    ]


def _calibration_facts(row: Any) -> list[tuple[str, Any]]:
    repeated = f"{row.repeatability_typed} {row.unit}" if row.repeatability_typed else ""
    left = f"{plain(row.worst_left)} {row.unit}" if row.worst_left is not None else _("not adjusted, not read again")
    return [
        (_("Instrument"), f"{row.instrument} {row.instrument_name}"),
        (_("Reference"), row.reference),
        (_("Its uncertainty (expanded, k = 2)"), f"{row.reference_u_typed} {row.unit}"),
        (_("Repeatability known from before"), repeated),
        (_("Tolerance"), f"± {plain(row.tolerance)} {row.unit}"),
        (_("Farthest off as found"), f"{plain(row.worst_error)} {row.unit} (± {plain(row.uncertainty)})"),
        (_("Farthest off as left"), left),
        (_("Adjusted"), _("yes") if row.adjusted else _("no")),
        (_("Correction until then"), f"{plain(row.correction_before)} {row.unit}"),
        (_("Calibrated by"), row.tester),
    ]


_FACTS = {
    WorkDone.KIND: _work_facts,
    EquipmentTest.KIND: _test_facts,
    HoldingTest.KIND: _holding_facts,
    SealAct.KIND: _seal_facts,
    RegulatorNotice.KIND: _notice_facts,
    Calibration.KIND: _calibration_facts,
}
