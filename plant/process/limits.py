"""Judging one answer against its limits: the outcome, the numbers and the reason in plain words.

Everything is compared exactly, in the unit of the limit, which is the unit that its clause is written in:
71.7 °C is 161.06 °F and meets 161 °F. Bounds belong to the limit: 45 °F or colder is met at 45.0 °F. The
worse of the value as read and the value as corrected decides; a correction never rescues.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from plant.process.said import Within
from plant.process.said import say as _
from plant.process.units import exact, exact_difference, plain, rounded


class Outcome(StrEnum):
    """What a judgement comes to."""

    MET = "met"
    OPERATING = "met, past the operating limit"
    NOT_MET = "not met"
    NOT_PROVEN = "not proven"


# The worst first: what is out of limits stays so whatever else is wrong with the reading.
SEVERITY = (Outcome.NOT_MET, Outcome.NOT_PROVEN, Outcome.OPERATING, Outcome.MET)


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit in its governing unit; None means no such bound, `wanted` the answers that meet it.

    `act_low` and `act_high` are the operating limits inside `low` and `high`. `clause`, `basis` and `rule`
    say where the limit comes from.
    """

    key: str
    quantity: str
    unit: str = ""
    low: Decimal | None = None
    high: Decimal | None = None
    act_low: Decimal | None = None
    act_high: Decimal | None = None
    wanted: tuple[str, ...] = ()
    clause: str = ""
    basis: str = ""
    rule: str = ""

    def __post_init__(self) -> None:
        """Refuse a bound that is no number, with which every comparison would fall silent. Raises ValueError."""
        for bound in (self.low, self.high, self.act_low, self.act_high):
            if bound is not None and not bound.is_finite():
                raise ValueError(f"the limit {self.key} has the bound {bound}")

    @property
    def numeric(self) -> bool:
        """Whether the limit bounds a number at all."""
        return any(bound is not None for bound in (self.low, self.high, self.act_low, self.act_high))

    def words(self) -> str:
        """The limit in words: "45 °F or below", "72 °F or above", "63 to 66 °F", "one of: yes"."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low is not None and self.high is not None:
            return _("%(low)s to %(high)s%(unit)s", low=plain(self.low), high=plain(self.high), unit=unit)
        if self.high is not None:
            return _("%(high)s%(unit)s or below", high=plain(self.high), unit=unit)
        if self.low is not None:
            return _("%(low)s%(unit)s or above", low=plain(self.low), unit=unit)
        return _either(self.wanted)


@dataclass(frozen=True, slots=True)
class Judged:
    """A judgement.

    Numbers are exact, in `unit`, the limit's; `margin` below zero is out of the limit by so much.


    `reasons` are plain sentences, the decisive one first.
    """

    outcome: Outcome
    reasons: tuple[str, ...]
    limit: Limit | None = None
    as_read: Fraction | None = None
    corrected: Fraction | None = None
    decisive: Fraction | None = None
    margin: Fraction | None = None
    others: tuple["Judged", ...] = field(default=(), repr=False)

    @property
    def reason(self) -> str:
        """All reasons as one text."""
        return " ".join(self.reasons)

    @property
    def limit_key(self) -> str:
        return self.limit.key if self.limit else ""

    def numbers(self) -> dict[str, str]:
        """The numbers as texts to keep with a verdict.

        Decimals in full when they end, else cut to six places.
        """
        named = {"as_read": self.as_read, "corrected": self.corrected, "margin": self.margin}
        texts = {name: plain(value) for name, value in named.items() if value is not None}
        if self.limit is not None:
            texts |= {"limit": self.limit.words(), "unit": self.limit.unit}
        return texts


def judge_number(as_read: Decimal, unit: str, correction: Decimal | Fraction | None, limits: Sequence[Limit]) -> Judged:
    """Judge a number by all its limits; the worst governs.

    `correction` [same unit as the reading] is added to the reading for its corrected value. Raises UnitError
    when a limit's unit measures something else.
    """
    return worst(_judge_bounds(as_read, unit, correction, one) for one in limits if one.numeric)


def judge_pair(
    indicating: Decimal,
    recording: Decimal,
    unit: str,
    correction: Decimal | Fraction | None,
    limits: Sequence[Limit],
    recorder_unit: str | None = None,
) -> Judged:
    """Judge an indicating and a recording thermometer read together.

    The recorder must never read higher than the indicating thermometer, both as read (1 NYCRR 2.45(b)(2) for
    the vat, text consulted; for continuous pasteurization the same, from memory). The limits are compared
    with both values and the worse decides; only the indicating reading has a correction. Without a limit on the
    temperature itself, the two are only compared with each other.
    """
    shown = exact(recording, recorder_unit or unit, unit)
    judged = [recorded()]
    if any(one.numeric for one in limits):
        judged = [
            _with_name(judge_number(indicating, unit, correction, limits), _("Indicating thermometer")),
            _with_name(judge_number(recording, recorder_unit or unit, None, limits), _("Recording thermometer")),
        ]
    apart = shown - Fraction(indicating)
    if apart > 0:
        judged.append(
            Judged(
                Outcome.NOT_MET,
                (
                    _(
                        "The recording thermometer reads %(apart)s higher than the indicating one; "
                        "it must never read higher.",
                        apart=_amount(apart, unit),
                    ),
                ),
                margin=-apart,
            )
        )
    return worst(judged)


def judge_wanted(answer: str, limits: Sequence[Limit]) -> Judged:
    """Judge a yes/no or a choice by the answers that each limit wants."""
    return worst(_judge_answer(answer, one) for one in limits if one.wanted)


def judge_count(count: int, limits: Sequence[Limit]) -> Judged:
    """Judge a count (drops, pests, broken pieces) by its bounds, in the limit's own unit."""
    return worst(_judge_bounds(Decimal(count), one.unit, None, one) for one in limits if one.numeric)


def judge_places(answers: Mapping[str, str], places: Sequence[str], limits: Sequence[Limit]) -> Judged:
    """Judge a list of places.

    One place whose answer is not wanted is not met; one without answer is not proven.


    Without a limit that names wanted answers, "ok" is wanted.
    """
    wanted = {text for one in limits for text in one.wanted} or {"ok"}
    limit = next((one for one in limits if one.wanted), limits[0] if limits else None)
    wrong = [place for place in places if answers.get(place, "") and answers[place] not in wanted]
    wrong += [place for place in answers if place not in places and answers[place] not in wanted]
    silent = [place for place in places if not answers.get(place)]
    if wrong:
        return Judged(Outcome.NOT_MET, (_("Not as wanted at %(places)s.", places=_listed(wrong)),), limit)
    if silent or not places:
        where = _listed(silent) or _("any place")
        return Judged(Outcome.NOT_PROVEN, (_("Nothing recorded at %(places)s.", places=where),), limit)
    count = _("the one place") if len(places) == 1 else _("all %(count)s places", count=str(len(places)))
    return Judged(Outcome.MET, (_("As wanted at %(places)s.", places=count),), limit)


def judge_text(text: str, limits: Sequence[Limit] = ()) -> Judged:
    """Judge a text, a seal or lot number, or a photo.

    Present is met, and a limit's wanted text must be it.
    """
    if not text.strip():
        return not_proven(_("Nothing recorded."), limits[0] if limits else None)
    if any(one.wanted for one in limits):
        return judge_wanted(text.strip(), limits)
    return Judged(Outcome.MET, (_("Recorded."),), limits[0] if limits else None)


def recorded() -> Judged:
    """An answer that the plan asks for and sets no limit to."""
    return Judged(Outcome.MET, (_("Recorded; the plan sets no limit here."),))


def not_proven(reason: str, limit: Limit | None = None) -> Judged:
    """A judgement without proof, with its reason: nothing recorded, or recorded so that it proves nothing."""
    return Judged(Outcome.NOT_PROVEN, (reason,), limit)


def worst(judged: Iterable[Judged]) -> Judged:
    """The worst of several judgements, of equal ones that with the least margin; none at all proves nothing.

    The others of the same severity add their reasons.
    """
    every = tuple(judged)
    if not every:
        # An empty list of rules proves nothing: it fails closed.
        return not_proven(_("The plan names no limit for this answer."))
    ordered = sorted(every, key=lambda one: (SEVERITY.index(one.outcome), one.margin if one.margin is not None else 0))
    first = ordered[0]
    same = [text for one in ordered if one.outcome == first.outcome for text in one.reasons]
    return replace(first, reasons=tuple(dict.fromkeys(same)), others=tuple(ordered[1:]))


def without_mixing(judged: Judged, agitator_ran: bool | None, bulb_covered: bool | None, minutes: int) -> Judged:
    """What a tank reading proves when the plan asks for agitator and bulb and not both are answered yes.

    A cold probe lies: in-limits becomes not proven; out of limits stays not met.
    """
    faults = []
    if not agitator_ran:
        faults.append(_not_mixed(agitator_ran, str(minutes)))
    if not bulb_covered:
        faults.append(
            _("The milk does not cover the bulb.")
            if bulb_covered is False
            else _("The milk is not recorded to cover the bulb.")
        )
    return _doubted(judged, faults)


def _not_mixed(ran: bool | None, minutes: str) -> str:
    if ran is False:
        return _(
            "The agitator did not run for %(minutes)s minutes, so the reading may not stand for the whole tank.",
            minutes=minutes,
        )
    return _(
        "The agitator is not recorded to have run for %(minutes)s minutes, "
        "so the reading may not stand for the whole tank.",
        minutes=minutes,
    )


def with_instrument(
    judged: Judged,
    read_on: date,
    calibration_due: date | None,
    error: Decimal | Fraction | None = None,
    tolerance: Decimal | Fraction | None = None,
    unit: str = "",
) -> Judged:
    """What a reading proves on an instrument out of tolerance or overdue for its calibration.

    Nothing, if in limits.

    `error` and `tolerance` [`unit`] are the last calibration's; the error's size at the tolerance itself is
    within it. The day on which calibration is due still counts as in time.
    """
    faults = []
    off = None if error is None else abs(Fraction(error))
    if off is not None and tolerance is not None and off > tolerance:
        faults.append(
            _(
                "The instrument was %(off)s off at its last calibration; %(allowed)s is allowed.",
                off=_amount(off, unit),
                allowed=_amount(Fraction(tolerance), unit),
            )
        )
    if calibration_due is not None and read_on > calibration_due:
        faults.append(_("The instrument's calibration was due on %(day)s.", day=calibration_due.isoformat()))
    return _doubted(judged, faults)


def _doubted(judged: Judged, faults: Sequence[str]) -> Judged:
    if not faults:
        return judged
    if judged.outcome in (Outcome.NOT_MET, Outcome.NOT_PROVEN):
        return replace(judged, reasons=(*judged.reasons, *faults))
    return replace(judged, outcome=Outcome.NOT_PROVEN, reasons=(*faults, *judged.reasons))


def _judge_bounds(as_read: Decimal, unit: str, correction: Decimal | Fraction | None, limit: Limit) -> Judged:
    read = exact(as_read, unit, limit.unit)
    corrected = None if correction is None else read + exact_difference(correction, unit, limit.unit)
    judged = [_place(read, limit)] if corrected is None else [_place(read, limit), _place(corrected, limit)]
    decided = worst(judged)
    value, verdict = _amount(decided.decisive or Fraction(0), limit.unit), _verdict_words(decided, limit)
    if corrected is not None and decided.decisive != read:
        sentence = _("Corrected, %(value)s: %(verdict)s.", value=value, verdict=verdict)
    else:
        note = f" ({plain(as_read)} {unit})" if unit != limit.unit else ""
        sentence = _("Read %(value)s: %(verdict)s.", value=f"{value}{note}", verdict=verdict)
    return replace(decided, reasons=(sentence,), as_read=read, corrected=corrected, others=())


def _place(value: Fraction, limit: Limit) -> Judged:
    """Where a value stands: its margin is the distance to the nearest critical bound, negative outside."""
    margin = _distance(value, limit.low, limit.high)
    operating = _distance(value, limit.act_low, limit.act_high)
    if margin is not None and margin < 0:
        outcome = Outcome.NOT_MET
    elif operating is not None and operating < 0:
        outcome = Outcome.OPERATING
    else:
        outcome = Outcome.MET
    return Judged(outcome, (), limit, decisive=value, margin=margin if margin is not None else operating)


def _distance(value: Fraction, low: Decimal | None, high: Decimal | None) -> Fraction | None:
    inside = []
    if low is not None:
        inside.append(value - Fraction(low))
    if high is not None:
        inside.append(Fraction(high) - value)
    return min(inside, default=None)


def _verdict_words(judged: Judged, limit: Limit) -> str:
    value = judged.decisive or Fraction(0)
    if judged.outcome is Outcome.MET:
        return _("meets %(limit)s", limit=limit.words())
    critical = judged.outcome is Outcome.NOT_MET
    low, high = (limit.low, limit.high) if critical else (limit.act_low, limit.act_high)
    above = high is not None and value > high
    bound = Fraction((high if above else low) or 0)
    words = {"apart": _amount(abs(value - bound), limit.unit), "bound": f"{plain(bound)}{_spaced(limit.unit)}"}
    if critical:
        if above:
            return _("%(apart)s above the limit of %(bound)s", **words)
        return _("%(apart)s below the limit of %(bound)s", **words)
    if above:
        return _("%(apart)s above the operating limit of %(bound)s", **words)
    return _("%(apart)s below the operating limit of %(bound)s", **words)


def _judge_answer(answer: str, limit: Limit) -> Judged:
    if not answer.strip():
        return not_proven(_("Nothing recorded."), limit)
    if answer in limit.wanted:
        return Judged(Outcome.MET, (_("Answered %(answer)s, as wanted.", answer=_answer(answer)),), limit)
    words = {"answer": _answer(answer), "wanted": _either(limit.wanted)}
    return Judged(Outcome.NOT_MET, (_("Answered %(answer)s; wanted is %(wanted)s.", **words),), limit)


def _either(answers: Sequence[str]) -> str:
    """'hot', 'hot or warm', 'a or b or c'."""
    said = _answer(answers[0]) if answers else ""
    for one in answers[1:]:
        said = _("%(one)s or %(other)s", one=said, other=_answer(one))
    return said


def _answer(answer: str) -> str:
    """An answer that every plan has is said in the reader's language; a plan's own stands as the plan writes it."""
    return {"yes": _("yes"), "no": _("no")}.get(answer, answer)


def _with_name(judged: Judged, name: str) -> Judged:
    named = (_("%(name)s: %(text)s", name=name, text=Within(text)) for text in judged.reasons)
    return replace(judged, reasons=tuple(named))


def _amount(value: Fraction, unit: str) -> str:
    """A number short enough to read: at most three decimals, more where fewer would show nothing of it."""
    places = next((places for places in (3, 6, 9) if rounded(value, places)), 3)
    return f"{plain(value, places)}{_spaced(unit)}"


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""


def _listed(places: Sequence[str]) -> str:
    return ", ".join(places)
