"""Which of a pasteurizer's sealed set-ups covers a product on a day."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext_lazy as _
from django.utils.translation import gettext_noop

from plant.calculators.asks import FAHRENHEIT_FIRST
from plant.calculators.pasteurization_asks import AREA, COMPOSITION, PRODUCT, RULES
from plant.calculators.pasteurization_case import class_of
from plant.calculators.words import CLASSES, HOMOGENIZER, YES_NO, known, shown_word
from plant.calculators.working import (
    BY_DEFINITION,
    Ask,
    Calculator,
    Given,
    Step,
    Table,
    Values,
    Working,
    in_unit,
    not_one_of,
)
from plant.process.errors import CalculationError
from plant.process.pasteurization import Coverage, Homogenizer, ProductClass, SetUp, covering, mean_hold_s
from plant.process.said import Said, say
from plant.rules import rule_set
from plant.rules.pasteurization import months_between_tests, rows_of

COLUMNS = (
    _("name"),
    _("diverts below"),
    _("tested hold"),
    _("tested on"),
    _("seals unbroken since"),
    _("classes"),
    _("homogenizer"),
    _("tube volume"),
    _("sealed top rate"),
)
EXAMPLE = """Milk; 161.5 °F; 16.4 s; 2025-12-02; yes; milk; running; 28 L; 5000 L/h
Cream and flavored; 166.5 °F; 16.4 s; 2025-12-02; yes; milk, raised; running; 28 L; 5000 L/h
Mix; 175.5 °F; 27.1 s; 2025-12-02; yes; mix; running; 28 L; 3000 L/h"""
CAUTIONS = (
    say(
        "Which set-up a product may run on is what the regulator tested, sealed and wrote down. This sheet only finds "
        "what speaks against it. Where no set-up covers the product, it does not run."
    ),
    say(
        "After a broken seal, or work on the pump, its drive, the homogenizer, the diversion device or the tube, the "
        "test is made again before forward flow; tell the regulator as the state's rule says."
    ),
)
# What the rule sets' own files say on their rows, for translation.
OF_THE_ROWS = (
    gettext_noop(
        "These rows are an aid. The regulator, the state's own rule and the adopted edition of the ordinance decide."
    ),
    gettext_noop("These rows are an aid. The competent authority and the regulation in force decide."),
)

# The parts of a row that carry a unit, under the name of the rows they stand in.
_SET_POINT = Ask(name="setups", label="", units=FAHRENHEIT_FIRST, low=32, high=392, example="161.5 °F")
_HOLD = Ask(name="setups", label="", units=("s",), low=0, high=3600, example="16.4 s")
_VOLUME = Ask(name="setups", label="", units=("L", "gal"), low=0.001, high=10000, example="28 L", required=False)
_RATE = Ask(
    name="setups", label="", units=("L/h", "gal/h", "L/min", "gal/min"), low=1, high=400000, example="5000 L/h",
    required=False,
)  # fmt: skip


def _work(values: Values) -> Working:
    rules = values.get("rules") or "us"
    area = (values.get("area") or "") if rules == "us" else ""
    product_class, _classified, _taken = class_of(values, rules)
    on = _day(values["on"])
    months = months_between_tests(rules)
    wanted = Homogenizer(values["homogenizer"]) if values.get("homogenizer") else None
    if not values["setups"]:
        raise CalculationError(say("Write at least one set-up."))
    set_ups = [_set_up(line, row) for line, row in enumerate(values["setups"], start=1)]
    found = covering(set_ups, product_class, rows_of(rules), on, homogenizer=wanted, months=months, area=area)
    covers = [one for one in found if one.covers]
    named = {"product": say(values["product"]), "class": say(product_class.value), "day": on.isoformat()}
    if covers:
        names = ", ".join(one.set_up.name for one in covers)
        answer = say("%(product)s (class %(class)s) on %(day)s: covered by %(names)s.", names=names, **named)
    else:
        answer = say("%(product)s (class %(class)s) on %(day)s: no set-up covers it. It does not run.", **named)
    return Working(
        answer=answer,
        verdict="met" if covers else "not met",
        margin=_margin(covers[0] if covers else found[0]),
        steps=tuple(step for one in found for step in _steps(one, months)),
        cautions=(*_cautions(found), *CAUTIONS, say(rule_set(rules).caution)),
        tables=(_table(found),),
    )


def _cautions(found: tuple[Coverage, ...]) -> dict[Said, None]:
    """Each once, in their order."""
    return dict.fromkeys(said for one in found for said in one.cautions)


def _margin(one: Coverage) -> Said:
    standing = one.verdict.standing
    margins = standing.words if standing else one.verdict.words
    return say("%(name)s: %(margins)s", name=one.set_up.name, margins=margins)


def _steps(one: Coverage, months: int) -> list[Step]:
    name, row = one.set_up.name, one.verdict.row
    steps = [
        Step(
            say("%(name)s: set point and tested hold", name=name),
            f"{one.set_up.set_point} {one.set_up.unit}, {one.set_up.hold_s} s",
            one.verdict.words,
            f"{row.clause} ({row.basis})" if row else "",
        ),
        Step(
            say("%(name)s: its test counts until", name=name),
            say("%(day)s and %(months)s months", day=one.set_up.tested_on.isoformat(), months=str(months)),
            one.valid_until.isoformat(),
            "La. 51 VII-313; ATCP 65.68(3) (text consulted)",
        ),
    ]
    mean = mean_hold_s(one.set_up)
    if mean is not None:
        how = f"{one.set_up.volume_l:.6g} L x 3600 / {one.set_up.top_rate_l_per_h:.6g} L/h"
        what = say("%(name)s: mean time in the tube, which no tested hold reaches", name=name)
        steps.append(Step(what, how, f"{mean:.2f} s", BY_DEFINITION))
    return steps


def _table(found: tuple[Coverage, ...]) -> Table:
    rows = tuple(
        (one.set_up.name, say("covers it") if one.covers else say("does not cover it"), _faults(one)) for one in found
    )
    return Table(say("Set-ups"), (say("name"), say("verdict"), say("why not")), rows)


def _faults(one: Coverage) -> str:
    said: str = ""
    for fault in one.faults:
        said = say("%(before)s %(fault)s", before=said, fault=fault) if said else fault
    return said


def _set_up(line: int, row: tuple[str, ...]) -> SetUp:
    name, set_point, hold, tested, seals, classes, homogenizer, volume, rate = row
    if not name:
        raise CalculationError(say("Line %(line)s: the set-up needs a name.", line=str(line)))
    at: Given = _SET_POINT.read(set_point)
    held: Given = _HOLD.read(hold)
    tube: Given | None = _VOLUME.read(volume)
    top: Given | None = _RATE.read(rate)
    return SetUp(
        name=name,
        set_point=at.value,
        unit=at.unit,
        hold_s=held.value,
        tested_on=_day(tested),
        seals_unbroken=_one_of(seals, YES_NO) == "yes",
        classes=tuple(ProductClass(_one_of(one.strip(), CLASSES)) for one in classes.split(",")),
        homogenizer=Homogenizer(_one_of(homogenizer, HOMOGENIZER)),
        volume_l=in_unit(tube, "L"),
        top_rate_l_per_h=in_unit(top, "L/h"),
    )


def _one_of(typed: str, keys: tuple[str, ...]) -> str:
    key = known(typed, keys)
    if not key:
        raise not_one_of(typed, map(shown_word, keys))
    return key


def _day(typed: str) -> date:
    try:
        return date.fromisoformat(typed)
    except ValueError as error:
        raise CalculationError(say("%(typed)s is no day: write it as 2026-03-03.", typed=typed[:40])) from error


CALCULATOR = Calculator(
    key="pasteurizer_setups",
    title=_("Pasteurizer set-ups: which covers a product"),
    purpose=_(
        "Which sealed set-up of a pasteurizer covers a product on a day: set point, tested hold, test, seals, classes."
    ),
    asks=(
        PRODUCT,
        Ask(name="on", label=_("Day (2026-03-03)"), kind="text", example="2026-03-03"),
        Ask(
            name="setups",
            label=_("Set-ups, one a line"),
            kind="rows",
            columns=COLUMNS,
            words={4: YES_NO, 5: CLASSES, 6: HOMOGENIZER},
            names=(gettext_noop("Milk"), gettext_noop("Cream and flavored"), gettext_noop("Mix")),
            example=EXAMPLE,
            help=_(
                "Seals: yes or no. Classes, with commas between: milk, raised, mix, eggnog. Homogenizer: none, timing "
                "pump, running, bypassed."
            ),
        ),
        Ask(
            name="homogenizer",
            label=_("Homogenizer for this product"),
            kind="choice",
            choices=(
                ("none", _("none")),
                ("timing pump", _("it is the timing pump")),
                ("running", _("running")),
                ("bypassed", _("bypassed")),
            ),
            required=False,
            example="running",
            help=_("Left open, only a set-up that was tested without a homogenizer covers."),
        ),
        *COMPOSITION,
        RULES,
        AREA,
    ),
    work=_work,
)
