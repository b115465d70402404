"""What was typed into the pasteurization calculator, judged: the product's class, its rows, the verdict, the batch."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from plant.calculators.pasteurization_asks import KINDS, product_of
from plant.calculators.working import Given, Values
from plant.process.pasteurization import (
    Batch,
    BatchVerdict,
    Classified,
    Method,
    ProductClass,
    Row,
    Use,
    Verdict,
    classify,
    judge,
    judge_batch,
    rows_elsewhere,
    rows_for,
)
from plant.process.said import Said
from plant.rules.pasteurization import rows_of, vat_rules_of

VAT_ASKS = ("air", "warmest", "fill", "empty")


@dataclass(frozen=True, slots=True)
class Case:
    """One question with its answer.

    `classified` is None under a rule set that has one table for all; `taken`: what came from the product's name.
    `elsewhere` is the verdict by the rows of other tables, `otherwise` that by the method that the time did
    not suggest; both for information. `hold_s`, `fill_s`, `empty_s` [s].
    """

    name: str
    rules: str
    area: str
    warm: Given
    time: Given
    method: Method | None
    product_class: ProductClass
    classified: Classified | None
    taken: tuple[Said, ...]
    rows: tuple[Row, ...]
    verdict: Verdict
    elsewhere: Verdict
    others: tuple[Row, ...]
    batch: BatchVerdict | None
    fill_s: Fraction
    empty_s: Fraction
    vat_given: bool
    otherwise: Verdict | None

    @property
    def met(self) -> bool:
        """Whether a row is met, and of a vat all that was given."""
        return self.verdict.met and (self.batch is None or self.batch.met)

    @property
    def vat_judged(self) -> bool:
        """Whether a rule for vats beside the row itself was judged or is left open."""
        batch = self.batch
        return batch is not None and bool(len(batch.checks) > 2 or batch.not_given or self.fill_s or self.empty_s)

    @property
    def hold_s(self) -> Fraction:
        """The time in seconds."""
        return self.time.exactly("s")


def case_of(values: Values) -> Case:
    """Judge what was typed. Raises CalculationError."""
    rules = values.get("rules") or "us"
    # Only the United States have tables of states.
    area = (values.get("area") or "") if rules == "us" else ""
    product_class, classified, taken = class_of(values, rules)
    every = rows_of(rules)
    rows, others = rows_for(product_class, every, area), rows_elsewhere(product_class, every, area)
    warm, time = values["temperature"], values["time"]
    method = Method(values["method"]) if values.get("method") else None
    verdict = judge(warm.value, warm.unit, time.exactly("s"), rows, method)
    return Case(
        name=values["product"],
        rules=rules,
        area=area,
        warm=warm,
        time=time,
        method=method,
        product_class=product_class,
        classified=classified,
        taken=taken,
        rows=rows,
        verdict=verdict,
        elsewhere=judge(warm.value, warm.unit, time.exactly("s"), others, method),
        others=others,
        batch=_batch(values, verdict, rules),
        fill_s=_seconds(values.get("fill")),
        empty_s=_seconds(values.get("empty")),
        vat_given=any(values.get(one) is not None for one in VAT_ASKS),
        otherwise=None if method else judge(warm.value, warm.unit, time.exactly("s"), rows, Method.HTST),
    )


def class_of(values: Values, rules: str) -> tuple[ProductClass, Classified | None, tuple[Said, ...]]:
    """The class of the product typed, why, and what came from its name. Raises CalculationError.

    Under a rule set with one table for all, only the use tells and no composition is asked.
    """
    if rules != "us":
        use = KINDS[values["product"]].use
        return {Use.MIX: ProductClass.MIX, Use.EGGNOG: ProductClass.EGGNOG}.get(use, ProductClass.MILK), None, ()
    product, taken = product_of(values)
    classified = classify(product)
    return classified.product_class, classified, taken


def _batch(values: Values, verdict: Verdict, rules: str) -> BatchVerdict | None:
    """The vat rules, where the row is a vat's."""
    if verdict.row is None or verdict.row.method is not Method.VAT:
        return None
    warm: Given = values["temperature"]
    batch = Batch(
        coolest=warm.value,
        unit=warm.unit,
        hold_s=values["time"].exactly("s"),
        coolest_air=_in(values.get("air"), warm.unit),
        warmest=_in(values.get("warmest"), warm.unit),
        fill_s=_in(values.get("fill"), "s"),
        empty_s=_in(values.get("empty"), "s"),
    )
    return judge_batch(batch, verdict.row, vat_rules_of(rules))


def _in(given: Given | None, unit: str) -> Fraction | None:
    return None if given is None else given.exactly(unit)


def _seconds(given: Given | None) -> Fraction:
    return Fraction(0) if given is None else given.exactly("s")
