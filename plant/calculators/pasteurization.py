"""Which rows of the pasteurization tables are a product's, and whether a temperature and a time meet one of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from plant.calculators.pasteurization_asks import ASKS, KINDS
from plant.calculators.pasteurization_case import Case, case_of
from plant.calculators.working import BY_DEFINITION, Calculator, Step, Table, Values, Working
from plant.pictures.hold_chart import hold_chart_svg
from plant.process.pasteurization import (
    FEDERAL,
    ORDINANCE,
    VISCOUS,
    Classified,
    Method,
    ProductClass,
    Row,
    VatCheck,
    Verdict,
    chart_hold_s,
    general_missed,
)
from plant.process.pasteurization.numbers import said_time
from plant.process.said import Said, again, say
from plant.process.units import CELSIUS, FAHRENHEIT, plain
from plant.rules import READ
from plant.rules.pasteurization import MICHIGAN, rows_of

CAUTIONS = (
    say(
        "The regulator, the state's own rule and the adopted edition of the ordinance decide which rows hold. This "
        "sheet compares two numbers with a table; it releases nothing."
    ),
    say(
        "The temperature is the lowest of the whole hold, by the official indicating thermometer; the time is that of "
        "the fastest particle. A row needs both. Nothing between two rows is interpolated, and no lethality makes up "
        "for a row that is missed."
    ),
)


def _work(values: Values) -> Working:
    case = case_of(values)
    return Working(
        answer=_answer(case),
        verdict="met" if case.met else "not met",
        margin=_margin(case),
        steps=(_class_step(case), *_reading_steps(case), *_row_steps(case.verdict), *_vat_steps(case)),
        cautions=(*_cautions(case), *CAUTIONS),
        tables=_tables(case),
        picture=_picture(case),
    )


def _answer(case: Case) -> Said:
    named = {"product": str(KINDS[case.name].label), "given": f"{case.warm}, {case.time}"}
    if case.batch is None or not case.verdict.met or not case.vat_judged:
        return say("%(product)s, %(given)s: %(verdict)s", verdict=case.verdict.words, **named)
    named["row"] = case.batch.row.words
    if not case.batch.met:
        missed = _checks(one for one in case.batch.checks if not one.met)
        return say(
            "%(product)s, %(given)s: the row %(row)s is reached, but a vat's rule is missed: %(missed)s.",
            missed=missed,
            **named,
        )
    if case.batch.not_given:
        missing = _listed(case.batch.not_given)
        return say(
            "%(product)s, %(given)s: the row %(row)s is met. Not given and not judged: %(missing)s.",
            missing=missing,
            **named,
        )
    return say("%(product)s, %(given)s: the row %(row)s and the vat's rules are met.", **named)


def _margin(case: Case) -> Said:
    if case.verdict.standing is None:
        return say("no row to measure from")
    if case.batch is not None and case.vat_given:
        return _checks(case.batch.checks)
    return case.verdict.standing.words


def _checks(checks: Iterable[VatCheck]) -> Said:
    return _listed([say("%(name)s: %(margin)s", name=one.name, margin=one.words) for one in checks])


def _class_step(case: Case) -> Step:
    what = say("Class of the product")
    if case.classified is None:
        how = say("one table for all milk: no raise for fat, solids or sweetener, no row of its own for mix")
        return Step(what, how, say("one class"), "853/2004 Annex III Sec. IX Ch. II Part II")
    said = [one.sentence for one in case.classified.conditions]
    how = _listed([*said, *case.taken]) if said else say("the use alone decides")
    return Step(what, how, say(case.product_class.value), f"{case.classified.clause} ({case.classified.basis})")


def _reading_steps(case: Case) -> list[Step]:
    """The temperature and the time in the units of the rows, and the method."""
    steps = []
    unit = case.rows[0].unit if case.rows else case.warm.unit
    if unit != case.warm.unit:
        formula = f"{case.warm.value:f} x 9/5 + 32" if unit == FAHRENHEIT else f"({case.warm.value:f} - 32) x 5/9"
        result = f"{plain(case.warm.exactly(unit))} {unit}"
        steps.append(Step(say("Temperature in the unit of the rule, exactly"), formula, result, BY_DEFINITION))
    if case.time.unit != "s":
        steps.append(Step(say("Time in seconds"), str(case.time), f"{plain(case.hold_s)} s", BY_DEFINITION))
    how, source = say("the method was named"), say("as typed")
    if case.method is None:
        how = say("a minute or more counts as a vat's, whose rows ask for 30 minutes; less as continuous flow")
        source = say("common practice, no source")
    steps.append(Step(say("Rows that may count"), how, " / ".join(case.verdict.methods), source))
    return steps


def _row_steps(verdict: Verdict) -> list[Step]:
    """The row that is met or the nearest: its temperature, its time; then the other ways to a row."""
    here = verdict.standing
    if here is None:
        return []
    source, held = _source(here.row), here.time_margin_s + Fraction(here.row.hold_s)
    steps = [
        Step(say("Row that is met") if verdict.met else say("Nearest row"), here.row.title, here.row.words, source),
        Step(
            say("Margin in temperature"),
            f"{plain(here.temperature)} {here.row.unit} - {plain(here.row.temperature)} {here.row.unit}",
            f"{plain(here.temperature_margin)} {here.row.unit}",
            source,
        ),
        Step(
            say("Margin in time"),
            f"{plain(held)} s - {plain(here.row.hold_s)} s",
            f"{plain(here.time_margin_s)} s",
            source,
        ),
    ]
    ways = (
        (say("What this temperature needs"), verdict.lacking_time),
        (say("What this time needs"), verdict.lacking_heat),
    )
    other = ((what, one) for what, one in ways if one is not None and one != here)
    steps += [Step(what, one.row.words, one.words, _source(one.row)) for what, one in other]
    return steps


def _vat_steps(case: Case) -> list[Step]:
    if case.batch is None:
        return []
    hold = case.batch.checks[1]
    source = f"{hold.clause} ({hold.basis})"
    steps = []
    if case.fill_s or case.empty_s:
        formula = f"{plain(case.batch.row.hold_s)} s + {plain(case.fill_s)} s + {plain(case.empty_s)} s"
        wanted = f"{plain(chart_hold_s(case.batch.row, case.fill_s, case.empty_s))} s"
        steps.append(Step(say("Hold on the chart, with filling and emptying"), formula, wanted, source))
        steps.append(Step(say("Vat: %(name)s", name=hold.name), hold.words, f"{plain(hold.margin)} s", source))
    for one in case.batch.checks[2:]:
        result = f"{plain(one.margin)} {one.unit}"
        steps.append(Step(say("Vat: %(name)s", name=one.name), one.words, result, f"{one.clause} ({one.basis})"))
    return steps


def _cautions(case: Case) -> list[Said]:
    """What has to be said beside this answer, the weightiest first."""
    said: list[Said] = []
    row, batch, classified = case.verdict.row, case.batch, case.classified
    missed = general_missed(case.verdict, case.product_class, rows_of(case.rules), case.area)
    said += [missed] if missed is not None else []
    if batch is not None and batch.not_given:
        missing = _listed(batch.not_given)
        said.append(say("A vat is judged by this too, and it was not given: %(missing)s.", missing=missing))
    if batch is None and case.vat_given:
        said.append(say("Air space, warmest product, filling and emptying belong to a vat: they were not used."))
    if batch is None and case.product_class in VISCOUS:
        said.append(
            say(
                "A holding-time test with water can overstate the hold of a viscous product (mix, cream, condensed): "
                "settle with the regulator how the tube was sized."
            )
        )
    if classified is not None and classified.clause == ORDINANCE.clause:
        said.append(_ordinance_caution(classified))
    if row is not None and row.basis != READ:
        said.append(say("The wording of this row was not read here; its basis is: %(basis)s.", basis=row.basis))
    if not case.verdict.met and case.otherwise is not None and case.otherwise.met:
        said.append(
            say(
                "The time was taken for a vat's. If the product ran through a holding tube, name the method: other "
                "rows are judged then."
            )
        )
    if row is not None and case.product_class in (ProductClass.BUTTER_CREAM, ProductClass.PLASTIC_CREAM):
        said.append(say("This row was read in two states' rules (%(clause)s): ask for your own.", clause=row.clause))
    if case.product_class is ProductClass.RAISED and case.area != MICHIGAN and Method.HHST in case.verdict.methods:
        said.append(say("Michigan raises the HHST rows by 5 °F too (MCL 288.697); the federal mark sits on two rows."))
    if not case.verdict.met and case.elsewhere.met and case.elsewhere.row is not None:
        said.append(
            say(
                "The row %(row)s of %(clause)s would be met. It counts only where that table is the one in force for "
                "the plant.",
                row=case.elsewhere.row.words,
                clause=case.elsewhere.row.clause,
            )
        )
    return [*said, *_rule_set_cautions(case)]


def _rule_set_cautions(case: Case) -> list[Said]:
    if case.rules == "eu":
        unused = [say("This rule set has no rule on a vat's air space or evenness.")] if case.batch is not None else []
        return [
            *unused,
            say(
                "An equivalent treatment, UHT (135 °C or more) and the phosphatase test are for the competent "
                "authority; they are not judged here."
            ),
        ]
    said = [say("Another process counts only where FDA recognizes it as equally effective (21 CFR 1240.61(d)).")]
    if case.warm.unit == CELSIUS:
        said.append(say("The Celsius that the tables print is rounded up; the rule is in °F, and so is this verdict."))
    return said


def _ordinance_caution(classified: Classified) -> Said:
    """Which of the triggers nobody read."""
    if classified.fired:
        return say(
            "Raised by the model ordinance alone (%(clause)s, from memory); %(federal)s has no such trigger.",
            clause=classified.clause,
            federal=FEDERAL.clause,
        )
    return say("The ordinance's triggers (solids, condensed) are from memory: check the edition adopted by your state.")


def _source(row: Row) -> str:
    return f"{row.clause} ({row.basis})"


def _tables(case: Case) -> tuple[Table, ...]:
    head = (say("temperature and time"), say("method"), say("printed Celsius"), say("clause"))
    tables = [Table(say("Rows for this product"), (*head, say("here")), tuple(_line(case, one) for one in case.rows))]
    if case.others:
        lines = tuple((*_cells(one), one.area or say("everywhere")) for one in case.others)
        tables.append(Table(say("Rows of other tables, for information"), (*head, say("table of")), lines))
    return tuple(tables)


def _line(case: Case, row: Row) -> tuple[str, ...]:
    standing = next((one for one in case.verdict.every if one.row == row), None)
    if standing is None:
        return (*_cells(row), say("another method"))
    verdict = say("met") if standing.met else say("not met")
    return (*_cells(row), say("%(verdict)s: %(margins)s", verdict=verdict, margins=standing.words))


def _cells(row: Row) -> tuple[str, ...]:
    return (row.words, row.method.value, f"{row.celsius} °C" if row.celsius else "", _source(row))


def _picture(case: Case) -> str:
    """Where the process stands to the rows of its method; nothing where there are none."""
    if not case.verdict.every:
        return ""
    rows = [one.row for one in case.verdict.every]
    unit = rows[0].unit
    return hold_chart_svg(
        [(float(one.temperature), float(one.hold_s), again(one.words, gettext)) for one in rows],
        case.warm.to(unit),
        float(case.hold_s),
        unit,
        case.met,
        point_words=f"{plain(case.warm.exactly(unit))} {unit}, {again(said_time(case.hold_s), gettext)}",
        desc=again(case.verdict.words, gettext),
        named={
            "title": gettext("Temperature and holding time"),
            "allowed": gettext("a row is met from its corner on: hotter and longer"),
            "temperature": gettext("product temperature"),
            "time": gettext("time at it"),
            "met": gettext("met"),
            "not met": gettext("not met"),
        },
        ident="pasteurization-rows",
    )


def _listed(parts: Sequence[Said]) -> Said:
    said = parts[0]
    for one in parts[1:]:
        said = say("%(before)s; %(one)s", before=said, one=one)
    return said


CALCULATOR = Calculator(
    key="pasteurization",
    title=_("Pasteurization: the row and the verdict"),
    purpose=_(
        "Which rows of the pasteurization tables are a product's, and whether a temperature and a time meet one."
    ),
    asks=ASKS,
    work=_work,
)
