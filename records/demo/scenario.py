"""Three invented days at Quillbrook Creamery, and how the fourth begins. All of it is made up.

Day 1 is quiet. On day 2 the silo warms in the evening and a tank is not read in time; both are answered and closed.
The press falls for half a minute, and diverts. Day 3 makes ice cream, loses its power for twenty minutes, and in the
evening the press recorder's file shows three seconds that no round could see. A day late the laboratory tells a count
of day 1 that is over its limit; the ice cream waits for its own. Three deviations stay open for whoever looks.
"""

from __future__ import annotations

from records.demo.acts import (
    Again,
    Amended,
    Answered,
    Approved,
    Challenged,
    ChartOff,
    ChartOn,
    Cleared,
    ClosedDeviation,
    Computed,
    Corrected,
    Day,
    Disposed,
    Diverted,
    Doing,
    Enriched,
    Fell,
    Flavored,
    Found,
    Froze,
    Happened,
    Look,
    LookedAt,
    Move,
    Noted,
    PowerOut,
    Ready,
    Recorded,
    Rehearsed,
    Roll,
    RollCounted,
    Sampled,
    Say,
    Sent,
    SheetLine,
    Stock,
    Supplied,
    Washed,
    WeighedIn,
)

RAW = ("silo-a", "cream-tank", "skim-tank", "whole-tank", "blend-vat")
PRESS = ("balance-tank", "press-1")
COUNTS = ("coliform", "bacteria")
MILK_TESTS = (*COUNTS, "phosphatase", "antibiotic")
CONTROL_TESTS = ("growth on control plate", "growth on positive control", "air plate")
RAW_TESTS = ("bacteria", "somatic cells", "antibiotic")
FINISHED = ("finished-1", "finished-2")
FLAVOR = ("flavor-vat-1", "flavor-vat-2")
FROZEN = ("freezer", "feeder")
PARTS = ("filler-parts", "feeder-parts")  # washed with what they belong to
CUP = {"cup_empty": "31.5", "cup_mix": "142.5", "mass_unit": "g", "mix_lb_gal": "9.15"}


def evening_wash(*places: str) -> Washed:
    """The circuits of the evening."""
    return Washed("17:50", "20:10", places)


def sanitized(at: str, end: str, *places: str) -> tuple[Washed, ...]:
    """Tanks by acid, the press by hot water: each has its own circuit."""
    cold = tuple(one for one in places if one not in PRESS)
    hot = tuple(one for one in places if one in PRESS)
    return tuple(Washed(at, end, each, "sanitized") for each in (cold, hot) if each)


def tanker(look: str, at: str, end: str, farm: str, pounds: str) -> tuple[Look | Move, ...]:
    """A tanker is looked at, screened, then unloaded into the silo; its weight comes from the scale ticket."""
    return (
        Look(look, "tanker", "silo-a", farm, pounds),
        Move(at, end, "", "silo-a", "raw-milk", pounds, "lb", from_outside=farm, measured_by="mass"),
    )


def two_percent(sheet: str, total: str, milk: str, skim: str, gallons: str, ml: str) -> tuple[Doing, ...]:
    """Two-percent milk by its sheet: what is weighed in, the two vitamins, the second look, and its test."""
    lines = (
        SheetLine("milk", "silo-a", fat="3.8", snf="8.8", test="silo sample of the morning"),
        SheetLine("skim", "skim-tank", fat="0.06", snf="9.1", test="separator sample"),
    )
    begin, first, last, vitamins, look, done = TWO_PERCENT_AT[sheet]
    return (
        Computed(begin, sheet, "two-percent", lines, total, "2"),
        WeighedIn(first, sheet, "milk", milk),
        WeighedIn(last, sheet, "skim", skim),
        Enriched(vitamins, "A", "VA-31", "200000", ml, gallons),
        Enriched(vitamins, "D", "VD-08", "40000", ml, gallons),
        LookedAt(look, "blend-vat"),
        Happened(done, "batch", "blend-vat", f"Two-percent milk, batch sheet {sheet}"),
    )


# When the sheet is computed, milk and skim are in, vitamins are added, looked at, and the sample is taken.
TWO_PERCENT_AT = {
    "118": ("11:08", "11:24", "11:32", "11:33", "11:35", "11:38"),
    "121": ("06:50", "07:06", "07:14", "07:15", "07:17", "07:20"),
}
PAPERS = (
    Approved("05:08", "Harrow Mill", "sugar", "metal, foreign matter", "Audit of the mill in October"),
    Approved("05:08", "Harrow Mill", "stabilizer", "Salmonella", "Certificate with each lot"),
    Approved("05:08", "Fenwick Dairy Powders", "skim milk powder", "Salmonella; drug residues",
             "Certificate with each lot, audit in September"),
    Approved("05:08", "Copper Lane Vitamins", "vitamin A concentrate", "wrong strength", "Assay with each lot"),
    Approved("05:08", "Copper Lane Vitamins", "vitamin D concentrate", "wrong strength", "Assay with each lot"),
    Approved("05:08", "Sorrel Fruit Kitchen", "strawberry syrup", "pathogens in fruit",
             "Validated heat step, certificate with each lot"),
    Approved("05:08", "Sorrel Fruit Kitchen", "roasted hazelnuts", "Salmonella; other nuts", "Validated roasting"),
    Supplied("05:46", "Harrow Mill", "sugar", "HM-0212", "1000"),
    Supplied("05:46", "Harrow Mill", "stabilizer", "HM-ST-17", "25"),
    Supplied("05:47", "Fenwick Dairy Powders", "skim milk powder", "FP-5520", "250", allergens=("milk",)),
    Supplied("05:47", "Copper Lane Vitamins", "vitamin A concentrate", "VA-31", "1000", "mL"),
    Supplied("05:48", "Copper Lane Vitamins", "vitamin D concentrate", "VD-08", "1000", "mL"),
    Supplied("05:48", "Sorrel Fruit Kitchen", "strawberry syrup", "SF-884", "60"),
    Supplied("05:49", "Sorrel Fruit Kitchen", "roasted hazelnuts", "HZ-2207", "80", allergens=("tree nuts",)),
)
# 498 kg at 9.15 lb/gal are 120 gallons.
MIX = (
    SheetLine("cream", "cream-tank", fat="40", snf="5.4", test="separator sample, composite"),
    SheetLine("skim", "skim-tank", fat="0.06", snf="9.1", test="separator sample"),
    SheetLine("skim milk powder", snf="97"),
    SheetLine("sugar", sugar="100"),
    SheetLine("stabilizer", other="100", fixed="1.5"),
)

OPENING = (
    *PAPERS,
    Washed("17:00", "20:15", (*RAW, *PRESS, *FINISHED, *FLAVOR, *FROZEN, "filler", "separator", *PARTS), days_back=1),
    Recorded("05:05", "cip"),
    Stock("05:06", "walk-in-cooler", "whole-milk", "140"),
    Stock("05:06", "hardening-room", "salted-hazelnut", "90"),
    Stock("05:07", "ingredient-cooler", "pouring-cream", "12"),
)

FIRST = Day(
    title="an ordinary day: whole milk and two-percent milk",
    doing=(
        *OPENING,
        *sanitized("05:12", "05:42", *RAW, *PRESS, *FINISHED, "filler", "separator"),
        Happened("05:48", "delivery", "dry-store", "Hazelnuts, roasted, lot HZ-2207"),
        Ready("05:52", ("silo-a",)),
        *tanker("05:56", "06:12", "06:48", "Nettle Farm", "14400"),
        Ready("06:50", ("cream-tank", "skim-tank", "whole-tank")),
        Move("07:02", "08:22", "silo-a", "cream-tank", "raw-cream", "68", via="separator"),
        Move("07:02", "08:22", "silo-a", "skim-tank", "raw-skim", "632", via="separator"),
        Move("07:24", "07:46", "silo-a", "whole-tank", "raw-milk", "620"),
        ChartOn("07:54", "101", "164.3"),
        Ready("08:02", ("press-1", "finished-1"), product="whole-milk"),
        Move("08:32", "09:47", "whole-tank", "finished-1", "whole-milk", "620", via="press-1", emptied=True),
        Happened("10:02", "label roll", "label-station", "Whole milk, artwork 4"),
        Ready("10:05", ("filler",)),
        Cleared("10:09", "whole-milk", labels="14"),
        Roll("10:13", "label", "LR-4401", "whole-milk", "2600"),
        RollCounted("12:26", "LR-4401", "2480", "108", "12"),
        Challenged("10:14", "filler", "start"),
        Challenged("12:17", "filler", "hourly"),
        Move("10:16", "12:21", "finished-1", "", "whole-milk", "620", via="filler", code="WM {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Ready("11:02", ("blend-vat",)),
        *two_percent("118", "2418", "1252.5", "1165", "619", "27"),
        Ready("13:04", ("press-1", "finished-2"), product="two-percent"),
        Move("13:22", "14:36", "blend-vat", "finished-2", "two-percent", "618", via="press-1", emptied=True),
        ChartOff("14:39", "164.3", "Whole milk, 620 gal; two-percent milk, 618 gal"),
        Happened("14:41", "label roll", "label-station", "Two-percent milk, artwork 4"),
        Ready("14:44", ("filler",)),
        Look("14:52", "tanker", "silo-a", "Oxbow Farm", "7740"),
        Cleared("14:55", "two-percent"),
        Roll("14:59", "label", "LR-4407", "two-percent", "2600"),
        RollCounted("16:46", "LR-4407", "2472", "119", "9"),
        Challenged("15:01", "filler", "start"),
        Move("15:02", "16:42", "finished-2", "", "two-percent", "618", via="filler", code="TP {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Move("15:08", "15:34", "", "silo-a", "raw-milk", "7740", "lb", from_outside="Oxbow Farm", measured_by="mass"),
        Sent("15:50", "WM {day}", "Harbor Lane Market", "12 Harbor Lane, Quillbrook", "380", "555 0142"),
        Sent("15:56", "WM {day}", "Alder Street School", "3 Alder Street, Quillbrook", "180", "555 0157"),
        Rehearsed(
            "17:02", "WM {day}", "Twice a year, by the recall plan: one code, chosen by lot.",
            (
                (6, "58", "", "Walk-in cooler, counted by Tomas Reed"),
                (15, "376", "Harbor Lane Market", "By telephone; 4 gal sold since"),
                (21, "180", "Alder Street School", "By telephone"),
            ),
            24, "614 of 620 gal found: 4 gal were sold, 2 gal are not explained. The cooler is counted again.",
        ),
        Sampled("06:54", "1", "vessel", ("bacteria", "somatic cells"), place="silo-a"),
        Sampled("06:55", "2", "farm", RAW_TESTS, farm="Nettle Farm"),
        Sampled("12:34", "3", "lot", MILK_TESTS, "WM {day}"),
        Sampled("12:36", "4", "retained", lot="WM {day}"),
        Found("12:50", "3", (("phosphatase", "18"), ("antibiotic", "not found"))),
        Sampled("15:40", "5", "farm", RAW_TESTS, farm="Oxbow Farm"),
        Sampled("16:48", "6", "lot", MILK_TESTS, "TP {day}"),
        Found("17:20", "6", (("phosphatase", "22"), ("antibiotic", "not found"))),
        evening_wash("whole-tank", "blend-vat", *FINISHED, *PRESS, "filler", "separator", "filler-parts"),
        Recorded("15:06", "press", "07:40"),
        Recorded("19:40", "tanks"),
        Corrected("05:29", "foot-baths", "foot-baths", "Foot bath at the raw room filled anew and measured again."),
        Again("05:33", "foot-baths", "foot-baths", "420", "after it was filled anew"),
    ),
    saying=(
        Say("foot-baths", due="05:20", at="05:27", typed="160"),
        Say("condensate", due="08:00", at="08:58", note="At the separator; the round began late."),
        Say("press-chart-end", at="14:43"),
    ),
    morning_notes="Silo A holds what is left of Nettle Farm. Two-percent batch waits in the blend vat.",
    evening_notes="Silo A, cream tank and skim tank hold milk for tomorrow. Everything else is washed.",
)

SILO, TANK = ("ccp-raw-cold", "silo-a"), ("ccp-cold", "finished-2")

SECOND = Day(
    title="whole milk, strawberry milk and ice cream mix; the silo warms in the evening",
    doing=(
        *sanitized("05:10", "05:40", "whole-tank", "blend-vat", *FINISHED, "flavor-vat-1", *PRESS, "filler",
                   "separator"),
        Ready("06:04", ("whole-tank", "blend-vat")),
        Move("06:20", "06:46", "silo-a", "whole-tank", "raw-milk", "600"),
        Computed("06:56", "119", "ice-cream-mix", MIX, "498", "12", "11", "15"),
        WeighedIn("07:08", "119", "cream", "149.5"),
        WeighedIn("07:16", "119", "skim", "247.5"),
        WeighedIn("07:20", "119", "skim milk powder", "25.4", "0.5", "FP-5520", scanned=True),
        WeighedIn("07:23", "119", "sugar", "75.3", "0.5", "HM-0212"),
        WeighedIn("07:25", "119", "stabilizer", "1.7", "0.2", "HM-ST-17"),
        Move("07:18", "07:26", "cream-tank", "", "raw-cream", "28", emptied=True, to_outside="Oxbow Farm, butter"),
        Happened("07:36", "batch", "blend-vat", "Ice cream mix, batch sheet 119"),
        Washed("07:32", "08:04", ("cream-tank",)),
        Recorded("08:05", "cip"),
        *sanitized("08:06", "08:16", "cream-tank"),
        Amended("09:44", "raw-temperature", "skim-tank", "37.4", "Typed the digits the wrong way round."),
        ChartOn("07:40", "102", "164.3"),
        Ready("07:50", ("press-1", "finished-1"), product="whole-milk"),
        Move("08:06", "09:14", "whole-tank", "finished-1", "whole-milk", "545", via="press-1"),
        Diverted("08:33", "08:31", "08:32", "Steam fell for half a minute; it came back by itself."),
        ChartOff("08:40", "164.3", "Whole milk, first part of 545 gal", next_one="103",
                 unusual="Diverted at 08:31, half a minute. The pen blotted at 08:37; fresh chart."),
        Ready("09:18", ("press-1", "flavor-vat-1"), "raised", product="strawberry-milk"),
        Move("09:26", "09:42", "whole-tank", "flavor-vat-1", "strawberry-milk", "55", via="press-1", emptied=True),
        Flavored("09:46", "flavor-vat-1", "strawberry-milk", "SF-884", "8", "kg", "heated by the supplier",
                 "Certificate of lot SF-884: held at 185 °F for 10 min, packed hot"),
        Happened("09:50", "flavor batch", "flavor-vat-1", "Strawberry milk, batch sheet 120"),
        Ready("09:52", ("cream-tank", "filler")),
        Move("09:56", "10:30", "silo-a", "cream-tank", "raw-cream", "31", via="separator"),
        Move("09:56", "10:30", "silo-a", "skim-tank", "raw-skim", "297", via="separator", emptied=True),
        Ready("10:02", ("press-1", "finished-2"), "mix", product="ice-cream-mix"),
        Move("10:12", "10:50", "blend-vat", "finished-2", "ice-cream-mix", "120", via="press-1", emptied=True),
        ChartOff("10:53", "178.3", "Whole milk, rest of 545 gal; strawberry milk, 55 gal; ice cream mix, 120 gal"),
        Happened("10:00", "label roll", "label-station", "Whole milk, artwork 4"),
        Again("10:58", "pasteurized-temperature", "finished-2", "37.0", "first look once the mix was in"),
        Cleared("10:12", "whole-milk"),
        Roll("10:16", "label", "LR-4401", "whole-milk", "108"),
        Roll("10:18", "label", "LR-4402", "whole-milk", "2600"),
        RollCounted("12:13", "LR-4401", "101", "0", "7"),
        RollCounted("12:15", "LR-4402", "2079", "513", "8"),
        Challenged("10:19", "filler", "start"),
        Move("10:20", "12:10", "finished-1", "", "whole-milk", "545", via="filler", code="WM {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Washed("10:50", "11:34", ("silo-a",)),
        *sanitized("11:36", "11:52", "silo-a"),
        Ready("12:40", ("silo-a",)),
        *tanker("12:50", "13:06", "13:38", "Nettle Farm", "12040"),
        Happened("13:50", "visitor", "", "Milk hauler's trainee"),
        Happened("13:56", "label roll", "label-station", "Strawberry milk, artwork 2"),
        Ready("14:00", ("filler",), "raised"),
        Cleared("14:03", "strawberry-milk"),
        Roll("14:07", "label", "LR-4390", "strawberry-milk", "400"),
        RollCounted("14:44", "LR-4390", "224", "170", "3",
                    "Three stuck to the backing, thought to be thrown out with it."),
        Challenged("14:09", "filler", "start"),
        Move("14:10", "14:40", "flavor-vat-1", "", "strawberry-milk", "56", via="filler", code="SM {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Recorded("11:20", "press", "07:30", (Fell("08:31:10", 24, "160.4"),)),
        Noted("17:36", "raw-temperature", "silo-a", "Cooling compressor had tripped. Piet Lomax called."),
        Noted("18:04", "raw-temperature", "silo-a", "Breaker reset at 17:48. The silo's valves are tagged."),
        Answered("18:20", *TANK, {
            "problem": "The 13:30 reading of Finished 2 was not taken. The tank was read at 17:30 and the recorder's "
                       "chart from 10:10 was read by the supervisor.",
            "recurrence": "The evening round is opened before the filler is set up; added to the hand-over.",
            "evaluation": "The chart shows 36 to 38 °F throughout; the indicating thermometer agrees. The mix was "
                          "not warm at any time since it was pasteurized.",
            "product": "The mix was on hold until two people had signed this.",
        }),
        Disposed("18:40", *TANK, "release", "Chart complete and in limits until 17:30; read by two people."),
        ClosedDeviation("18:52", *TANK, "Complete; the chart is filed with this day."),
        Recorded("19:04", "tanks"),
        Answered("19:10", *SILO, {
            "problem": "The breaker of the silo's cooling compressor had tripped after 13:30. Reset at 17:48; the "
                       "silo was read each half hour until two readings in a row were in limits.",
            "recurrence": "Breaker and motor looked at by maintenance tonight; the silo's recorder gets a warning lamp "
                          "in the press room.",
            "evaluation": "All milk in the silo was above 45 °F for part of the time between 13:30 and 18:30. It was "
                          "not used: nothing left the silo in that time.",
            "product": "The whole silo was held, then sent to animal feed. It is not used for food.",
        }),
        Disposed("19:20", *SILO, "sent to another use", "To animal feed; the raw milk limit was exceeded for hours."),
        Move("19:36", "20:04", "silo-a", "", "raw-milk", "1400", emptied=True, to_outside="Oxbow Farm, animal feed"),
        ClosedDeviation("20:12", *SILO, "Complete; the silo is empty and the compressor runs."),
        Sampled("12:20", "1", "lot", MILK_TESTS, "WM {day}"),
        Found("12:34", "1", (("phosphatase", "16"), ("antibiotic", "not found"))),
        Sampled("13:20", "2", "control plate", CONTROL_TESTS, words="Poured with the plates of Monday's milk"),
        Found("13:21", "2", (("growth on control plate", "no growth"), ("growth on positive control", "growth"),
                             ("air plate", "2")), batch="M-0302"),
        Found("13:24", "3", (("coliform", "<1"),), days_ago=1, batch="M-0302"),
        Found("13:26", "1", (("bacteria", "18000"), ("somatic cells", "190000")), days_ago=1),
        Found("13:30", "2", (("bacteria", "24000"), ("somatic cells", "180000"), ("antibiotic", "not found")),
              days_ago=1),
        Sampled("14:48", "3", "lot", MILK_TESTS, "SM {day}"),
        Found("15:10", "3", (("phosphatase", "24"), ("antibiotic", "not found"))),
        evening_wash("whole-tank", "blend-vat", "finished-1", "flavor-vat-1", *PRESS, "filler", "separator", *FROZEN,
                     *PARTS),
        Washed("20:14", "20:44", ("silo-a",)),
    ),
    saying=(
        Say("ingredient-temperature", due="05:30", not_taken="The thermometer's display is dead; Piet Lomax has it."),
        Say("raw-temperature", "skim-tank", "09:30", at="09:33", typed="34.7"),
        Say("press-diversions", due="09:14", typed="1"),
        Say("press-chart-end", at="10:56"),
        Say("pasteurized-temperature", "finished-2", "13:30", never=True),
        Say("raw-temperature", "silo-a", "13:30", at="13:32", typed="39.2"),
        Say("raw-temperature", "silo-a", "17:30", at="17:30", typed="46.4"),
        Say("raw-temperature", "silo-a", "18:00", at="18:00", typed="45.7"),
        Say("raw-temperature", "silo-a", "18:30", at="18:30", typed="43.8"),
        Say("raw-temperature", "silo-a", "19:00", at="19:00", typed="41.5"),
        Say("hand-sinks", due="13:20", at="14:12", note="The visitor was signed in first."),
    ),
    morning_notes="Mix is in Finished 2 for tomorrow's ice cream. Silo A is washed and waits for Nettle Farm.",
    evening_notes="Silo A was emptied to animal feed and washed; its compressor runs. Mix in Finished 2 is released.",
)

THIRD = Day(
    title="ice cream, two-percent milk, twenty minutes without power",
    doing=(
        *sanitized("05:10", "05:40", "silo-a", "whole-tank", "blend-vat", "finished-1", *FLAVOR, *PRESS, *FROZEN,
                   "filler", "separator"),
        Corrected("05:36", "preop", "packing-room", "Film from last night picked up, floor rinsed."),
        Again("05:44", "preop", "packing-room", "yes", "seen again after it was rinsed"),
        Ready("05:50", ("silo-a", "blend-vat")),
        *tanker("05:56", "06:14", "06:48", "Oxbow Farm", "12900"),
        *two_percent("121", "2754", "1428", "1325.5", "706", "31"),
        ChartOn("07:36", "104", "164.3"),
        Ready("07:40", ("press-1", "finished-1", "flavor-vat-1"), product="two-percent"),
        Move("08:02", "08:12", "finished-2", "flavor-vat-1", "ice-cream-mix", "58"),
        Happened("08:16", "flavor batch", "flavor-vat-1", "Salted hazelnut, batch sheet 122"),
        Move("08:20", "09:44", "blend-vat", "finished-1", "two-percent", "704", via="press-1", emptied=True),
        Happened("08:40", "label roll", "label-station", "Salted hazelnut, artwork 3 (tree nuts)"),
        Ready("08:44", (*FROZEN, "filler"), "mix", product="salted-hazelnut"),
        Froze("08:54", "barrel purged", {"amount": "1", "unit": "gal", "became": "drain"}),
        Froze("08:57", "feeder filled",
              {"ingredient": "Roasted hazelnuts", "lot_code": "HZ-2207", "allergens": ("tree nuts",), "amount": "44",
               "unit": "lb"}),
        Move("09:02", "10:34", "flavor-vat-1", "hardening-room", "salted-hazelnut", "58", via="freezer", emptied=True),
        Move("09:06", "10:32", "", "hardening-room", "salted-hazelnut", "6", via="feeder",
             from_outside="Dry store, hazelnuts HZ-2207"),
        Cleared("08:50", "salted-hazelnut"),
        Roll("08:52", "tub", "TS-220", "salted-hazelnut", "540"),
        Roll("08:53", "lid", "LS-310", "salted-hazelnut", "540"),
        RollCounted("10:46", "TS-220", "512", "24", "4"),
        RollCounted("10:48", "LS-310", "512", "26", "2"),
        Challenged("09:09", "filler", "start"),
        Move("09:10", "10:40", "hardening-room", "", "salted-hazelnut", "64", via="filler", code="SH {day}",
             to_outside="packed", measured_by="count"),
        Froze("09:05", "first tubs right", {"about": "draw temperature", "tubs": "9", "became": "destroyed"}),
        Froze("09:07", "first tubs right",
              {"about": "weight", "tubs": "4", "became": "like-flavor rework", "use_within_h": "24"}),
        Froze("09:08", "first tubs right", {"about": "lid", "tubs": "0"}),
        Froze("09:12", "draw temperature", {"amount": "21.8", "instrument": "ti-freezer"}),
        Froze("09:14", "cup weighed", {**CUP, "cup_product": "89.5"}),
        Froze("09:31", "into hardening", {"tubs": "120"}, drawn=18),
        Froze("10:12", "into hardening", {"tubs": "340"}, drawn=19),
        Corrected("10:06", "overrun", "freezer", "Air turned back at the freezer; the next cup was lower."),
        Again("10:20", "overrun", "freezer", "91", "after the air was turned back"),
        ChartOff("09:47", "164.3", "Two-percent milk, 704 gal"),
        Happened("10:44", "packed", "hardening-room", "SH {day}"),
        PowerOut("11:24", "11:00", "11:20", "power", "The line from the road failed; it came back by itself.",
                 (("temperature of raw product", "Silo A"), ("temperature of pasteurized product", "Finished 1"),
                  ("temperature of pasteurized product", "Finished 2"),
                  ("storage recorders", "Silo A, Finished 1 and 2"))),
        Washed("11:36", "12:06", (*FROZEN, "filler", *PARTS)),
        *sanitized("12:08", "12:20", *FROZEN, "filler"),
        Happened("12:26", "changeover", "freezer", "Salted hazelnut to rhubarb crumble"),
        Happened("12:27", "changeover", "filler", "Salted hazelnut to rhubarb crumble"),
        Happened("12:28", "changeover", "feeder", "Salted hazelnut to rhubarb crumble"),
        Ready("12:30", ("flavor-vat-2",), "mix"),
        Move("12:36", "12:46", "finished-2", "flavor-vat-2", "ice-cream-mix", "58", emptied=True),
        Happened("12:50", "flavor batch", "flavor-vat-2", "Rhubarb crumble, batch sheet 123"),
        Answered("12:52", "", "plant", {
            "problem": "Power was gone from 11:00 to 11:20. All runs had ended; tanks were shut.",
            "recurrence": "The supplier was asked for the cause; the recorders get a battery.",
            "evaluation": "Every tank that held product was read after it: all in limits by reading. The "
                          "recorders' charts have a gap of twenty minutes, which proves nothing for that time.",
            "product": "Nothing was moved until every tank had been read.",
            "reanalysis": "Not needed: the plan's checks found what had to be found.",
        }),
        ClosedDeviation("12:56", "", "plant", "Complete; charts filed with the gap marked.", by="odile"),
        Happened("13:08", "label roll", "label-station", "Rhubarb crumble, artwork 2 (wheat)"),
        Ready("13:10", (*FROZEN, "filler"), "mix", product="rhubarb-crumble"),
        Froze("13:16", "barrel purged", {"amount": "1", "unit": "gal", "became": "drain"}),
        Froze("13:18", "feeder filled",
              {"ingredient": "Oat and wheat crumble", "lot_code": "WC-118", "allergens": ("wheat",), "amount": "38",
               "unit": "lb"}),
        Froze("13:25", "first tubs right", {"about": "draw temperature", "tubs": "8", "became": "destroyed"}),
        Froze("13:27", "first tubs right", {"about": "weight", "tubs": "0"}),
        Froze("13:28", "first tubs right", {"about": "lid", "tubs": "2", "became": "destroyed"}),
        Froze("13:32", "draw temperature", {"amount": "22.1", "instrument": "ti-freezer"}),
        Froze("13:36", "cup weighed", {**CUP, "cup_product": "90.0"}),
        Froze("13:52", "into hardening", {"tubs": "130"}, drawn=17),
        Move("13:22", "14:34", "flavor-vat-2", "hardening-room", "rhubarb-crumble", "58", via="freezer", emptied=True),
        Move("13:26", "14:32", "", "hardening-room", "rhubarb-crumble", "5", via="feeder",
             from_outside="Dry store, wheat crumble WC-118"),
        Cleared("13:11", "rhubarb-crumble", lids="26"),
        Roll("13:14", "tub", "TS-231", "rhubarb-crumble", "540"),
        Roll("13:15", "lid", "LS-310", "rhubarb-crumble", "26", printed="salted-hazelnut"),
        Roll("13:17", "lid", "LS-322", "rhubarb-crumble", "540"),
        RollCounted("14:43", "TS-231", "504", "33", "3"),
        RollCounted("14:44", "LS-322", "504", "34", "2"),
        Challenged("13:29", "filler", "start"),
        Move("13:30", "14:40", "hardening-room", "", "rhubarb-crumble", "63", via="filler", code="RC {day}",
             to_outside="packed", measured_by="count"),
        Noted("13:40", "cooler-temperature", "walk-in-cooler", "Door had stood open while crates were moved. Shut."),
        Happened("14:46", "packed", "hardening-room", "RC {day}"),
        Washed("14:48", "15:06", ("filler", "filler-parts")),
        *sanitized("15:08", "15:18", "filler"),
        Happened("15:19", "changeover", "filler", "Rhubarb crumble to two-percent milk"),
        Happened("15:20", "label roll", "label-station", "Two-percent milk, artwork 4"),
        Ready("15:24", ("filler",)),
        Cleared("15:25", "two-percent"),
        Roll("15:29", "label", "LR-4408", "two-percent", "3000"),
        RollCounted("17:28", "LR-4408", "2816", "171", "13"),
        Challenged("15:31", "filler", "start"),
        Move("15:32", "17:24", "finished-1", "", "two-percent", "704", via="filler", code="TP {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Sampled("10:58", "1", "lot", COUNTS, "SH {day}"),
        Sampled("11:26", "2", "environment", ("Listeria",), place="packing-room"),
        Sampled("11:27", "3", "environment", ("Listeria",), place="drains"),
        Sampled("11:28", "4", "environment", ("Listeria",), place="freezer-room"),
        Sampled("11:30", "5", "environment", ("Listeria",), place="filler"),
        Sampled("11:31", "6", "environment", ("Listeria",), place="locker-room"),
        Found("13:03", "3", (("bacteria", "310"),), days_ago=2, batch="M-0302"),
        Found("13:05", "1", (("coliform", "<1"),), days_ago=1, batch="M-0303"),
        Found("13:07", "3", (("coliform", "<1"),), days_ago=1, batch="M-0303"),
        Found("14:50", "5", (("bacteria", "31000"), ("somatic cells", "260000"), ("antibiotic", "not found")),
              days_ago=2),
        Sampled("14:54", "7", "lot", COUNTS, "RC {day}"),
        Found("16:26", "6", (("coliform", "14"), ("bacteria", "640 est.")), days_ago=2, batch="M-0303",
              words="A day late: the box had stood at the laboratory over a night."),
        Move("16:26", "16:44", "skim-tank", "", "raw-skim", "227", emptied=True, to_outside="Oxbow Farm, animal feed"),
        Move("16:10", "16:22", "cream-tank", "", "raw-cream", "31", emptied=True, to_outside="Oxbow Farm, butter"),
        Recorded("17:02", "press", "07:30", (Fell("09:12:20", 3, "160.6", diverted=False),)),
        Recorded("17:08", "tanks"),
        evening_wash("cream-tank", "skim-tank", "whole-tank", "blend-vat", *FINISHED, *FLAVOR, *PRESS, *FROZEN,
                     "filler", "separator", *PARTS),
        Recorded("20:12", "cip"),
    ),
    saying=(
        Say("preop", "packing-room", "05:20", at="05:30", typed="no", note="Film under the filler"),
        Say("overrun", "freezer", at="10:02", typed="104"),
        Say("press-chart-end", at="09:51"),
        Say("cooler-temperature", "walk-in-cooler", "13:30", at="13:34", typed="46.3"),
        Say("cooler-temperature", "walk-in-cooler", "14:04", at="14:04", typed="42.1"),
        Say("cooler-temperature", "walk-in-cooler", "14:34", at="14:34", typed="39.4"),
        Say("feeder-lot", "feeder", "13:26", at="13:31", typed="WC-118"),
        Say("clothing", "locker-room", "05:15", never=True),
        Say("foot-baths", "foot-baths", "13:20", at="13:31", typed="440", paper="B-0117", keyed="14:50",
            reason="The tablet was charging; written on paper."),
    ),
    morning_notes="Power was gone from 11:00 to 11:20; every tank was read after it. Rhubarb crumble runs next.",
    evening_notes="The walk-in cooler was warm at 13:30: its deviation is open, what stood in it is on hold. Two-"
                  "percent milk of Monday has a coliform count over the limit and is on hold. The press "
                  "recorder shows three seconds below 161 °F at 09:12: the two-percent milk of today is on hold.",
    reviewed_next_morning=False,
)

TODAY = Day(
    title="today, as far as it has come",
    doing=(
        *sanitized("05:10", "05:40", *RAW[1:], *PRESS, *FINISHED, "filler", "separator"),
        Ready("06:56", ("whole-tank",)),
        Move("07:12", "07:36", "silo-a", "whole-tank", "raw-milk", "620"),
        ChartOn("07:47", "105", "164.3"),
        Ready("07:52", ("press-1", "finished-1"), product="whole-milk"),
        Move("08:26", "09:41", "whole-tank", "finished-1", "whole-milk", "620", via="press-1", emptied=True),
        ChartOff("09:44", "164.3", "Whole milk, 620 gal"),
        Happened("09:56", "label roll", "label-station", "Whole milk, artwork 4"),
        Ready("10:00", ("filler",)),
        Cleared("10:05", "whole-milk"),
        Roll("10:10", "label", "LR-4403", "whole-milk", "2600"),
        RollCounted("12:24", "LR-4403", "2480", "110", "10"),
        Challenged("10:13", "filler", "start"),
        Challenged("12:15", "filler", "hourly"),
        Move("10:14", "12:18", "finished-1", "", "whole-milk", "620", via="filler", code="WM {day}", emptied=True,
             to_outside="packed", measured_by="count"),
        Sampled("12:22", "1", "lot", MILK_TESTS, "WM {day}"),
        Recorded("12:30", "press", "07:40"),
        Found("12:44", "1", (("phosphatase", "20"), ("antibiotic", "not found"))),
        *tanker("14:40", "14:56", "15:30", "Nettle Farm", "8600"),
        Recorded("15:50", "tanks"),
        evening_wash("whole-tank", "finished-1", *PRESS, "filler", "filler-parts"),
    ),
)

REST = Day(title="no production; what holds product is read all the same")

DAYS = (FIRST, SECOND, THIRD)
