"""What happens to a load, as pages and the day sheet say it."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from plant import clock
from plant.process.residue import CONFIRM, FOUND, INITIAL, NOT_FOUND, NOT_VALID, REPEAT
from plant.process.units import plain
from records.people.plans import plan_in_force
from records.receiving import farms
from records.receiving.models import (
    ARRIVED,
    CANS,
    CLEARED,
    DECIDED,
    NO,
    NOT_SEEN,
    OWNER_TOLD,
    PARLOR,
    REGULATOR_TOLD,
    SCREENED,
    STOPPED,
    TANKER,
    TRACED,
    UNLOADED,
    UNLOADING,
    YES,
    LoadEvent,
)
from records.run_rows.models import ENDED, NOTE, UNUSUAL


def what_words(what: str) -> str:
    """The name of an event in the reader's language."""
    return {
        ARRIVED: _("arrived"),
        SCREENED: _("residue screen"),
        UNLOADING: _("unloading begun"),
        UNLOADED: _("unloading ended"),
        REGULATOR_TOLD: _("the regulator told"),
        OWNER_TOLD: _("the milk's owner told"),
        DECIDED: _("what becomes of the load"),
        TRACED: _("each producer's sample tested"),
        STOPPED: _("pick-up stopped at the producer"),
        CLEARED: _("pick-up again, after a negative test"),
        UNUSUAL: _("unusual occurrence"),
        NOTE: _("note"),
        ENDED: _("left without unloading"),
    }.get(what, what)


def step_clause(what: str) -> str:
    """The rule behind a step after a positive, with what was read of it."""
    return {
        REGULATOR_TOLD: "PMO Appendix N, published flow chart (text consulted); 3 CCR 576.1: at once, no later than "
        "the next state working day",
        OWNER_TOLD: "PMO Appendix N, published flow chart (text consulted)",
        DECIDED: "PMO Appendix N: nothing of it is processed; the regulator's word stands",
        TRACED: "PMO Appendix N, published flow chart (text consulted)",
        STOPPED: "Me. 01-001-329 XIV (text consulted): no pick-up until a test is negative",
    }.get(what, "")


def state_words(state: str) -> str:
    """Where a load is, in the reader's language."""
    return {
        "at the bay": _("at the bay"),
        "unloading": _("being unloaded"),
        "unloaded": _("unloaded"),
        "gone": _("left without unloading"),
    }[state]


def answer_words(answer: str) -> str:
    """An answer on the paper or about a control, in the reader's language."""
    return {
        YES: _("yes"), NO: _("no"), NOT_SEEN: _("not seen"), "good": _("good"), "off": _("off"),
        "dirt seen": _("dirt seen"),
    }.get(answer, answer)  # fmt: skip


def means_words(means: str) -> str:
    """How the milk came."""
    return {TANKER: _("by tanker"), CANS: _("in cans"), PARLOR: _("from the plant's own parlor")}.get(means, means)


def stage_words(stage: str) -> str:
    """Which test of the sample."""
    return {INITIAL: _("first test"), REPEAT: _("repeat of the same sample"), CONFIRM: _("confirmation")}.get(
        stage, stage
    )


def result_words(result: str) -> str:
    """What a test said."""
    return {NOT_FOUND: _("not found"), FOUND: _("found"), NOT_VALID: _("test not valid")}.get(result, result)


def words_label(what: str) -> str:
    """What the free words of an event are asked for."""
    return {
        REGULATOR_TOLD: _("What was said, and the answer"),
        OWNER_TOLD: _("What was said, and the answer"),
        DECIDED: _("What becomes of it, by whose word"),
        TRACED: _("Which producers, with each result"),
        STOPPED: _("Since when, and what was said"),
        CLEARED: _("The test that found nothing: when, by whom"),
        UNUSUAL: _("What happened, and what was done"),
        ENDED: _("Why, and where to"),
    }.get(what, _("Note"))


def details(row: LoadEvent) -> str:
    """What was said of an event, on one line."""
    parts: list[str] = []
    if row.what == ARRIVED:
        parts += _paper(row)
    if row.what == SCREENED:
        parts += _screen(row)
    if row.whom:
        parts.append(row.whom)
    if row.words:
        parts.append(row.words)
    return "; ".join(part for part in parts if part)


def _paper(row: LoadEvent) -> list[str]:
    parts = [means_words(row.means), row.tanker]
    if row.ticket:
        parts.append(_("ticket %(ticket)s") % {"ticket": row.ticket})
    if row.pounds is not None and row.gallons is not None:
        parts.append(_("%(lb)s lb (about %(gal)s gal)") % {"lb": row.pounds_typed, "gal": plain(row.gallons, 1)})
    in_force = plan_in_force(row.happened_at) or plan_in_force(clock.now())
    if in_force is not None:
        parts.append("; ".join(farms.said(one, row, in_force) for one in row.farms))
    if row.seals or row.seals_whole:
        words = {"seals": row.seals or "—", "whole": answer_words(row.seals_whole) or "—"}
        parts.append(_("seals %(seals)s, whole: %(whole)s") % words)
    if row.washed_at is not None:
        words = {"when": _local(row.washed_at), "place": row.wash_place or "—"}
        parts.append(_("wash tag %(when)s, %(place)s, %(who)s") % (words | {"who": row.wash_by or "—"}))
    if row.agitated_typed:
        parts.append(_("agitated %(minutes)s min") % {"minutes": row.agitated_typed})
    if row.looks:
        parts.append(_("smell and look: %(looks)s") % {"looks": answer_words(row.looks)})
    if row.sample:
        words = {"sample": row.sample, "who": row.sampler or "—", "license": row.sampler_license or "—"}
        parts.append(_("sample %(sample)s by %(who)s, license %(license)s") % words)
    return parts


def _local(moment: datetime) -> str:
    """A moment on the plant's clocks."""
    in_force = plan_in_force(moment) or plan_in_force(clock.now())
    return moment.isoformat() if in_force is None else in_force.calendar.local(moment).strftime("%Y-%m-%d %H:%M")


def _screen(row: LoadEvent) -> list[str]:
    words = {
        "kit": row.kit, "lot": row.kit_lot, "negative": answer_words(row.negative_control),
        "positive": answer_words(row.positive_control), "who": row.analyst,
    }  # fmt: skip
    told = _("%(kit)s lot %(lot)s; controls right: negative %(negative)s, positive %(positive)s; by %(who)s") % words
    return [f"{stage_words(row.stage)}: {result_words(row.result)}", told, row.certificate]
