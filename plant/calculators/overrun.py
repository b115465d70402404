"""Overrun: from a cup or from volumes, with particulates, and what a gallon weighs against the federal standard."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from plant.calculators.asks import optional_ask, percent_ask
from plant.calculators.mix_asks import amount
from plant.calculators.words import BULKY, known, shown_word
from plant.calculators.working import (
    BY_DEFINITION,
    Ask,
    Calculator,
    Step,
    Table,
    Values,
    Working,
    not_one_of,
    number,
)
from plant.process.errors import CalculationError
from plant.process.overrun import (
    BULKY_FACTORS,
    Bulky,
    Finding,
    Inclusion,
    LawfulOverrun,
    Named,
    Package,
    bulky_weight_percent,
    cup_weights,
    judge_composition,
    judge_gallon,
    largest_lawful_overrun,
    overrun_by_cup,
    overrun_by_volume,
    package,
)
from plant.process.properties import mix_density_kg_m3, pounds_per_gallon
from plant.process.said import Said, say

MASSES, VOLUMES = ("g", "kg", "lb", "oz"), ("L", "mL", "gal", "qt")
DENSITIES = ("kg/L", "kg/m3", "g/L", "lb/gal")
CUP, VOLUME, KNOWN = "cup", "volumes", "known"
CUP_ROWS = (0, 20, 40, 60, 80, 90, 95, 100, 105, 110, 120, 150)
CAUTIONS = (
    say(
        "Federal minimums of 21 CFR 135.110, read in copies. Your state may ask for more, and the label must fit. Your "
        "regulator decides."
    ),
    say(
        "The largest lawful overrun is a ceiling, not a target: aim below it by what your freezer and your scale "
        "scatter."
    ),
    say(
        "Weigh the cup struck level, without smeared rim or hollow; let the mix stand until its air has left. A "
        "weighed gallon beats a computed one."
    ),
    say("Fat and solids must be those of the product tested, not those of the recipe."),
)
UNJUDGED = say("Only the gallon is judged. Give the nonfat milk solids, and the composition is judged too.")


@dataclass(frozen=True, slots=True)
class _Product:
    """What was given of the mix and what it became. Densities [kg/m3], percents by mass."""

    mix_density: float
    solids: float
    cellulose: float
    overrun: float
    inclusion: Inclusion
    package: Package

    @property
    def mix_share(self) -> float:
        return 1 - self.inclusion.share_percent / 100

    @property
    def finished_solids(self) -> float:
        added = self.inclusion.share_percent * self.inclusion.solids_percent / 100
        return self.solids * self.mix_share + added


def _work(values: Values) -> Working:
    overrun, first = _overrun(values)
    product = _product(values, overrun)
    pounds = pounds_per_gallon(product.package.density_kg_m3)
    cellulose = product.cellulose * product.mix_share
    findings = [*judge_gallon(pounds, product.finished_solids, cellulose), *_composition(values, product)]
    # Of a mix that no overrun can save the findings speak; the ceiling is then not asked.
    ceiling = _ceiling(product)
    failed = [one for one in findings if not one.met]
    return Working(
        answer=_answer(overrun, pounds, ceiling),
        verdict="not met" if failed else "met",
        margin=_margin(failed, overrun, ceiling),
        steps=(
            first,
            *_weight_steps(values, product, pounds),
            *_ceiling_steps(product, ceiling),
            *_bulky_steps(values),
        ),
        cautions=CAUTIONS if values["msnf"] is not None else (UNJUDGED, *CAUTIONS),
        tables=(_requirements(findings), *_cup_table(values)),
    )


def _overrun(values: Values) -> tuple[float, Step]:
    way, what = values["way"], say("Overrun of the mix")
    if way == CUP:
        mix, product, tare = (_needed(values, one, "g") for one in ("gross_mix", "gross_product", "empty_cup"))
        found = overrun_by_cup(mix, product, tare)
        how = f"100 x (({mix:g} - {tare:g}) - ({product:g} - {tare:g}))/({product:g} - {tare:g}) g"
        source = say("equal volumes weighed; Guelph")
    elif way == VOLUME:
        mix, product = (_needed(values, one, "L") for one in ("mix_volume", "product_volume"))
        added = amount(values, "inclusion_volume", "L")
        found = overrun_by_volume(mix, product, added)
        how, source = f"100 x ({product:g} - {added:g} - {mix:g})/{mix:g} L", say("volumes measured; Guelph")
    else:
        found, how, source = _needed(values, "overrun", "%"), "", say("as given")
    return found, Step(what, how, f"{found:.2f} %", source)


def _needed(values: Values, name: str, unit: str) -> float:
    if values[name] is None:
        raise CalculationError(say("For this way to the overrun something is missing: %(what)s.", what=_LABELS[name]))
    return amount(values, name, unit)


def _product(values: Values, overrun: float) -> _Product:
    fat, solids = values["fat"].to("%"), values["solids"].to("%")
    if fat > solids:
        raise CalculationError(say("The fat is part of the total solids and cannot be more."))
    given = values["mix_density"]
    density = mix_density_kg_m3(fat, solids) if given is None else given.to("kg/m3")
    share = amount(values, "inclusion_share")
    if share and values["inclusion_density"] is None:
        raise CalculationError(say("Inclusions need their density too."))
    inclusion = Inclusion(0.0, density, 0.0)
    if share:
        own = 100.0 if values["inclusion_solids"] is None else values["inclusion_solids"].to("%")
        inclusion = Inclusion(share, values["inclusion_density"].to("kg/m3"), own)
    made = package(density, overrun, inclusion)
    return _Product(density, solids, amount(values, "cellulose"), overrun, inclusion, made)


def _composition(values: Values, product: _Product) -> tuple[Finding, ...]:
    """The findings on the composition of the finished food, when the nonfat milk solids were given."""
    if values["msnf"] is None:
        return ()
    share = product.mix_share
    return judge_composition(
        values["fat"].to("%") * share,
        values["msnf"].to("%") * share,
        amount(values, "whey") * share,
        amount(values, "yolk") * share,
        _bulky(values),
        Named(values["named"]),
        values["allowance"] == "yes",
    )


def _bulky(values: Values) -> list[Bulky]:
    return [Bulky(_bulky_kind(kind), number(share, say("percent"))) for kind, share in values["bulky"]]


def _bulky_kind(typed: str) -> str:
    kind = known(typed, BULKY)
    if not kind:
        raise not_one_of(typed, map(shown_word, BULKY))
    return kind


def _ceiling(product: _Product) -> LawfulOverrun | None:
    try:
        return largest_lawful_overrun(product.mix_density, product.solids, product.cellulose, product.inclusion)
    except CalculationError:
        return None


def _answer(overrun: float, pounds: float, ceiling: LawfulOverrun | None) -> Said:
    named = {"overrun": f"{overrun:.1f}", "weight": f"{pounds:.3f}"}
    if ceiling is None:
        return say(
            "Overrun %(overrun)s %%: a gallon weighs %(weight)s lb. No overrun keeps both limits of a gallon.", **named
        )
    return say(
        "Overrun %(overrun)s %%: a gallon weighs %(weight)s lb. The largest lawful overrun is %(most)s %%.",
        most=f"{ceiling.overrun_percent:.1f}",
        **named,
    )


def _margin(failed: list[Finding], overrun: float, ceiling: LawfulOverrun | None) -> str:
    if failed:
        first = failed[0]
        return say(
            "%(name)s misses by %(margin)s %(unit)s", name=first.name, margin=f"{-first.margin:.3g}", unit=first.unit
        )
    if ceiling is None:
        return ""
    return say("%(points)s points of overrun to the ceiling", points=f"{ceiling.overrun_percent - overrun:.1f}")


def _weight_steps(values: Values, product: _Product, pounds: float) -> list[Step]:
    fat, solids, made = values["fat"].to("%"), product.solids, product.package
    computed = values["mix_density"] is None
    formula = f"1/(1.075 x {fat / 100:g} + 0.63 x {(solids - fat) / 100:g} + {(100 - solids) / 100:g})"
    of_mix = f"{product.mix_density:.1f}"
    plain = product.inclusion.share_percent == 0
    kilo = f"{product.mix_share:.4g}/{of_mix}"
    with_it = f"1/({kilo} x (1 + {product.overrun:.4g}/100) + {1 - product.mix_share:.4g}/"
    steps = [
        Step(
            say("Density of the mix without air"),
            formula if computed else "",
            f"{of_mix} kg/m3, {pounds_per_gallon(product.mix_density):.3f} lb/gal",
            say("ice-cream course text") if computed else say("as given"),
        ),
        Step(
            say("Density of the finished product"),
            f"{of_mix}/(1 + {product.overrun:.4g}/100)"
            if plain
            else f"{with_it}{product.inclusion.density_kg_m3:.1f})",
            f"{made.density_kg_m3:.1f} kg/m3",
            BY_DEFINITION,
        ),
        Step(
            say("Weight of a gallon"),
            f"{made.density_kg_m3:.2f} x 3.785411784/(1000 x 0.45359237)",
            f"{pounds:.3f} lb/gal",
            BY_DEFINITION,
        ),
        Step(
            say("Food solids in a gallon"),
            f"{pounds:.3f} x ({product.finished_solids:.4g} - {product.cellulose * product.mix_share:.3g})/100",
            f"{pounds * (product.finished_solids - product.cellulose * product.mix_share) / 100:.3f} lb/gal",
            "21 CFR 135.110(a)(2)",
        ),
    ]
    if not plain:
        steps.insert(
            2,
            Step(
                say("Air in the package"),
                say(
                    "%(air)s %% of its volume; inclusions %(pieces)s %%",
                    air=f"{made.air_percent:.1f}",
                    pieces=f"{made.inclusion_volume_percent:.1f}",
                ),
                say(
                    "package overrun %(package)s %%; weighed as if it were all mix it would seem %(seems)s %%",
                    package=f"{made.package_overrun_percent:.1f}",
                    seems=f"{made.weighed_as_plain_percent:.1f}",
                ),
                say("volumes add, by definition"),
            ),
        )
    return steps


def _ceiling_steps(product: _Product, ceiling: LawfulOverrun | None) -> list[Step]:
    if ceiling is None:
        return []
    weight = pounds_per_gallon(product.mix_density)
    plain = product.inclusion.share_percent == 0 and product.cellulose == 0
    if plain:
        how = f"100 x (min({weight:.4g}/4.5, {weight:.4g} x {product.solids / 100:.4g}/1.6) - 1)"
    else:
        how = say("the same with what is added and what does not count")
    binds = say("the weight binds") if ceiling.binding == "weight" else say("the food solids bind")
    return [
        Step(
            say("Largest lawful overrun"),
            how,
            say(
                "%(most)s %% (%(binds)s; by weight %(weight)s %%, by solids %(solids)s %%)",
                most=f"{ceiling.overrun_percent:.1f}",
                binds=binds,
                weight=f"{ceiling.by_weight_percent:.1f}",
                solids=f"{ceiling.by_solids_percent:.1f}",
            ),
            "21 CFR 135.110(a)(2)",
        )
    ]


def _bulky_steps(values: Values) -> list[Step]:
    bulky = _bulky(values)
    if not bulky or values["msnf"] is None:
        return []
    allowed = values["allowance"] == "yes"
    counted = bulky_weight_percent(bulky, allowed)
    terms = [f"{one.percent:g}" + (f" x {BULKY_FACTORS[one.kind]:g}" if allowed else "") for one in bulky]
    remainder = max(0.0, 100 - counted)
    return [
        Step(
            say("Bulky flavors as they are taken off"),
            " + ".join(terms),
            f"{counted:.2f} %",
            "7 CFR 58.2825(b)" if allowed else "21 CFR 135.110(a)(2)",
        ),
        Step(
            say("Least fat and least total milk solids"),
            f"max(8, 0.10 x {remainder:.2f}) / max(16, 0.20 x {remainder:.2f})",
            f"{max(8.0, remainder / 10):.2f} % / {max(16.0, remainder / 5):.2f} %",
            "21 CFR 135.110(a)(2)",
        ),
    ]


def _requirements(findings: list[Finding]) -> Table:
    rows = []
    for one in findings:
        if one.low is not None:
            bound = say("at least %(bound)s %(unit)s", bound=f"{one.low:.4g}", unit=one.unit)
        elif one.high is not None:
            bound = say("at most %(bound)s %(unit)s", bound=f"{one.high:.4g}", unit=one.unit)
        else:
            bound = say("below %(bound)s %(unit)s", bound=f"{one.below:.4g}", unit=one.unit)
        met = say("met") if one.met else say("not met")
        rows.append((one.name, f"{one.value:.3f} {one.unit}", bound, met, f"{one.clause}; {one.basis}"))
    head = (say("requirement"), say("found"), say("wanted"), say("verdict"), say("clause"))
    return Table(say("Requirements of the finished product"), head, tuple(rows))


def _cup_table(values: Values) -> list[Table]:
    if values["way"] != CUP:
        return []
    tare = amount(values, "empty_cup", "g")
    rows = cup_weights(amount(values, "gross_mix", "g") - tare, tare, CUP_ROWS)
    return [
        Table(
            say("What the full cup weighs"),
            (say("overrun, %"), say("net, g"), say("gross, g")),
            tuple((f"{one.overrun_percent:g}", f"{one.net:.2f}", f"{one.gross:.1f}") for one in rows),
        )
    ]


# The same words as the labels below, for a sentence that says what is missing.
_LABELS = {
    "gross_mix": say("cup full of mix"),
    "gross_product": say("cup full of product"),
    "empty_cup": say("empty cup"),
    "mix_volume": say("volume of mix"),
    "product_volume": say("volume of product"),
    "overrun": say("overrun"),
}


def _mass(name: str, label: object, example: str) -> Ask:
    return optional_ask(name, label, MASSES, 0, 1_000_000, example)


def _volume(name: str, label: object) -> Ask:
    return optional_ask(name, label, VOLUMES, 0, 1_000_000)


def _density(name: str, label: object, help_: object) -> Ask:
    return optional_ask(name, label, DENSITIES, 0.1, 3, help_=help_)


CALCULATOR = Calculator(
    key="overrun",
    title=_("Overrun"),
    purpose=_("The air in ice cream, what a gallon weighs, and whether both keep to the federal standard."),
    asks=(
        Ask(
            name="way",
            label=_("How the overrun is found"),
            kind="choice",
            choices=(
                (CUP, _("a cup weighed with mix and with product")),
                (VOLUME, _("volumes of mix and product")),
                (KNOWN, _("it is known")),
            ),
            example=CUP,
        ),
        _mass("gross_mix", _("Cup full of mix without air, with the cup"), "140 g"),
        _mass("gross_product", _("Cup full of product, with the cup"), "86 g"),
        _mass("empty_cup", _("Empty cup"), "30 g"),
        _volume("mix_volume", _("Volume of mix")),
        _volume("product_volume", _("Volume of product")),
        _volume("inclusion_volume", _("Volume that inclusions take in the product")),
        percent_ask("overrun", _("Overrun, where it is known"), high=300),
        percent_ask("fat", _("Milkfat of the mix, % by mass"), "12 %"),
        percent_ask("solids", _("Total solids of the mix, % by mass"), "38.3 %"),
        _density(
            "mix_density",
            _("Density of the mix"),
            _("Left empty it is worked out from fat and total solids. Weighing is better."),
        ),
        percent_ask("cellulose", _("Microcrystalline cellulose in the mix, % by mass"), high=5),
        percent_ask("inclusion_share", _("Inclusions added after the freezer, % of the product by mass"), high=60),
        _density(
            "inclusion_density",
            _("Density of the inclusions"),
            _("As they lie in the product, not heaped: heaped there is air between them."),
        ),
        percent_ask("inclusion_solids", _("Solids of the inclusions, % by mass")),
        percent_ask(
            "msnf",
            _("Nonfat milk solids of the mix, whey with them, % by mass"),
            "11 %",
            _("For the composition: fat, milk solids, whey and egg yolk are judged too."),
            optional=True,
        ),
        percent_ask("whey", _("Whey solids of the mix, % by mass")),
        percent_ask("yolk", _("Egg yolk solids of the mix, % by mass")),
        Ask(
            name="bulky",
            label=_("Bulky flavors in the finished product"),
            kind="rows",
            columns=(_("cocoa, fruit or nuts, or other"), _("% of the finished product")),
            words={0: BULKY},
            required=False,
            help=_("Cocoa counts cocoa or chocolate solids; dried fruit its weight before drying."),
        ),
        Ask(
            name="allowance",
            label=_("Bulky flavors count with the factors of 7 CFR 58.2825(b)"),
            kind="choice",
            choices=(("yes", _("yes: cocoa 2.5, fruit or nuts 1.4")), ("no", _("no: their plain weight"))),
            example="yes",
            help=_("Plain weight asks for more milk solids, so it is the careful choice."),
        ),
        Ask(
            name="named",
            label=_("Sold as"),
            kind="choice",
            choices=((Named.ICE_CREAM.value, _("ice cream")), (Named.CUSTARD.value, _("frozen custard"))),
            example=Named.ICE_CREAM.value,
        ),
    ),
    work=_work,
)
