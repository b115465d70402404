"""The columns that make up each record kind's content, by version of the content.

A version once released never changes: a new column gets a new version here, and the old list stays.
"""

FIELDS: dict[str, dict[int, tuple[str, ...]]] = {
    "file kept": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "sha256", "name", "mime", "size",
        ),
    },
    "installation": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_name", "invented", "only",
        ),
    },
    "reading": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "monitoring_key", "what", "subject", "subject_name", "event",
            "due_at", "plan_number", "answer_kind", "typed", "unit", "value", "typed_second",
            "value_second", "places", "file", "not_taken", "instrument", "instrument_name",
            "instrument_role", "instrument_unit", "correction", "accuracy", "calibration_due",
            "agitator_ran", "bulb_covered", "book_says", "lot", "product", "product_class", "note",
            "late_reason", "paper_form", "device_offset_ms", "amends", "amend_reason",
        ),
    },
    "reading note": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "reading", "text", "form_id",
        ),
    },
    "transition": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "key", "what", "monitoring_key", "subject", "subject_name", "event",
            "due_at", "plan_number", "sentence",
        ),
    },
    "round signed": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "shift", "plant_day", "started_at", "readings",
        ),
    },
    "deviation": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "chain", "control_point", "control_point_name", "is_ccp", "weight",
            "subject", "subject_name", "cause", "since_at", "sentence", "plan_number", "foreseen",
            "raised_from",
        ),
    },
    "deviation cause": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "deviation", "cause_kind", "cause_number", "sentence",
        ),
    },
    "corrective action": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "deviation", "part", "text", "form_id",
        ),
    },
    "deviation closing": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "deviation", "text",
        ),
    },
    "correction": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "subject_kind", "subject_number", "control_point", "subject",
            "subject_name", "text", "form_id",
        ),
    },
    "hold": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "lot", "lot_label", "vessel", "since_at", "reason", "bars_release",
            "deviation",
        ),
    },
    "disposition": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "hold", "what", "reason", "letter",
        ),
    },
    "hold lifted": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "hold", "disposition",
        ),
    },
    "outage": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "what", "started_at", "covers", "deviation", "text",
        ),
    },
    "outage end": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "outage", "ended_at", "covers",
        ),
    },
    "movement": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "source", "source_name", "target", "target_name", "via",
            "via_name", "started_at", "ended_at", "quantity_typed", "quantity", "unit", "uncertainty",
            "measured_by", "product", "product_name", "family", "source_lots", "target_lot", "note",
            "amends", "amend_reason", "void",
        ),
    },
    "movement end": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "movement", "ended_at", "quantity_typed", "quantity", "unit",
            "uncertainty", "measured_by", "note",
        ),
    },
    "wash": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "what", "vessel", "vessel_name", "started_at", "ended_at",
            "method", "temperature_typed", "temperature", "temperature_unit", "strength", "contact_min",
            "note", "amends", "amend_reason", "void",
        ),
        2: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "what", "vessel", "vessel_name", "started_at", "ended_at",
            "method", "temperature_typed", "temperature", "temperature_unit", "strength", "contact_min",
            "parted", "joined", "note", "amends", "amend_reason", "void",
        ),
    },
    "level seen": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "vessel", "vessel_name", "quantity_typed", "quantity", "unit",
            "book", "difference", "note",
        ),
    },
    "plant event": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "event", "subject", "subject_name", "reference", "note",
        ),
    },
    "no production": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "shift", "reason",
        ),
    },
    "service state": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "vessel", "vessel_name", "out", "reason",
        ),
    },
    "verdict": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "subject_kind", "subject_number", "outcome", "plan_number", "plan_hash",
            "monitoring_key", "limit_key", "rule", "clause", "basis", "numbers", "reason", "why",
            "follows",
        ),
    },
    "lot": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "origin", "code", "vessel", "vessel_name", "product", "product_name",
            "movement",
        ),
    },
    "account act": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "person_id", "person_name", "what", "role", "detail", "reason",
        ),
    },
    "certificate": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "person_id", "person_name", "what", "serial", "fingerprint", "pem",
            "not_before", "not_after",
        ),
    },
    "tablet act": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "tablet_id", "tablet_name", "what",
        ),
    },
    "failed attempt": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "person_id", "person_name", "tablet_id", "component", "locked",
        ),
    },
    "plan signature": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "version_id", "version_number", "content_hash", "meaning",
        ),
    },
    "plan approval": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "version_id", "version_number", "in_force_from", "plan", "content_hash",
        ),
    },
    "plant revision": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "table", "row_id", "code", "before", "after", "reason",
        ),
    },
    "operator in charge": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "shift", "person_id", "person_name",
        ),
    },
    "hand-over": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "shift", "side", "notes", "form_id",
        ),
    },
    "day closing": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "revision", "tree_size", "root", "head", "signature",
            "certificate", "reason",
        ),
    },
    "sheet state": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "revision", "state", "sha256", "size", "pages",
        ),
    },
    "sheet signature": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "plant_day", "revision", "signed_as", "meaning", "certificate_serial",
            "signed_sha256", "own_work",
        ),
    },
    "trace file": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "source", "name", "sha256", "size", "kept", "mapping", "mapped",
            "instruments", "rows", "samples_new", "samples_known", "contradicting", "out_of_order",
            "rejected_rows", "rejected", "first_at", "last_at",
        ),
    },
    "trace judged": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "place", "place_name", "start_at", "end_at", "plan_number", "plan_hash", "knew",
            "counted", "found",
        ),
    },
    "trace finding": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "key", "part", "place", "place_name", "instrument", "about", "cause", "outcome",
            "control_point", "start_at", "end_at", "seconds", "extreme", "unit", "rule", "clause", "basis",
            "contradicting", "lots", "sentence",
        ),
    },
    "trace block": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "file", "instrument", "instrument_name", "unit", "hour", "part", "content",
            "places", "samples", "failed", "first_at", "last_at", "least", "greatest", "data",
        ),
    },
    "work done": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "part", "part_words", "what", "worker", "started_at", "ended_at", "seals_broken",
            "seals_renewed", "parts_before", "parts_after", "tools_before", "tools_after", "count_note",
            "opened", "cleaned", "sanitized", "tests", "tests_words", "plan_number",
        ),
    },
    "equipment test": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "test", "test_words", "instrument", "results", "met", "by_regulator", "tester",
            "report", "rule", "clause", "basis",
        ),
    },
    "holding-time test": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "set_up", "set_up_name", "set_point", "set_point_unit", "classes", "seconds_typed",
            "diverted_typed", "tries", "seconds", "medium", "homogenizer", "pump_rate_typed",
            "pump_rate", "pump_rate_unit", "by_regulator", "tester", "report", "plan_number",
        ),
    },
    "seal act": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "seal_place", "seal_place_words", "what", "number_seen", "number_known",
            "sealed_by", "by_regulator", "work",
        ),
    },
    "notice to the regulator": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "subject_kind", "subject_number", "what", "told_by", "told_whom", "how", "answer",
        ),
    },
    "calibration": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "place", "place_name", "note", "amends", "amend_reason",
            "void", "instrument", "instrument_name", "unit", "points", "reference", "reference_u_typed",
            "repeatability_typed", "tolerance", "resolution", "correction_before", "worst_error",
            "uncertainty", "worst_left", "outcome", "within", "good_after", "last_good_at", "doubted",
            "adjusted", "tester", "report",
        ),
    },
    "supplier approved": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "supplier",
            "item", "hazard", "grounds", "until",
        ),
    },
    "training": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "training", "topic", "people",
            "trained_on", "trainer", "proven", "ends_on", "certificate", "plan_number",
        ),
    },
    "person trained": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "training_number", "training", "person", "person_name", "trained_on",
        ),
    },
    "ingredient received": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "what",
            "item", "supplier", "supplier_lot", "quantity_typed", "quantity", "unit", "best_by",
            "certificate", "allergens", "condition", "accepted", "refused_why", "approval",
        ),
    },
    "ingredient used": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "received",
            "item", "supplier_lot", "what", "amount_typed", "amount", "unit", "into",
        ),
    },
    "batch sheet": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "batch",
            "place", "place_name", "product", "product_name", "wanted", "lines", "computed",
            "total_typed", "total", "tolerance",
        ),
    },
    "batch addition": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "sheet",
            "place", "place_name", "line", "name", "source", "received", "supplier_lot", "allergen",
            "gross_typed", "gross", "tare_typed", "tare", "net", "target", "off", "scale",
            "scanned", "blend", "movement", "stock",
        ),
    },
    "addition confirmed": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "addition",
            "sheet",
        ),
    },
    "blend test": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "place",
            "place_name", "sheet", "sample", "fat_typed", "fat", "solids_typed", "solids", "method",
        ),
    },
    "separation": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "place",
            "place_name", "streams", "computed",
        ),
    },
    "vitamin added": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "vitamin",
            "place", "place_name", "product", "product_name", "received", "supplier_lot",
            "strength_typed", "strength", "amount_typed", "amount", "milk_typed", "milk",
            "milk_unit", "iu_per_quart", "low", "high", "clause", "stock",
        ),
    },
    "flavor added": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "place",
            "place_name", "product", "product_name", "received", "item", "supplier_lot",
            "amount_typed", "amount", "unit", "why", "why_words", "movement", "stock",
        ),
    },
    "second look": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "note", "amends", "amend_reason", "void", "addition",
            "addition_kind", "place", "how", "scanned",
        ),
    },
    "run event": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "run", "place", "place_name", "what", "happened_at", "set_up",
            "set_up_name", "set_point", "product", "product_name", "product_class", "movement",
            "chart_number", "words", "amends", "amend_reason", "void",
        ),
    },
    "gateway act": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "gateway", "name", "what", "token_hash",
        ),
    },
    "gateway instrument": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "gateway", "instrument",
        ),
    },
    "feed act": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "form_id", "name", "what", "instrument", "unit",
        ),
    },
    "recorder silent": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet", "instrument", "instrument_name", "place", "place_name", "since",
            "allowed_min", "sentence",
        ),
    },
    "freezer run event": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "run", "place", "place_name", "what", "happened_at", "product",
            "product_name", "movement", "words", "amends", "amend_reason", "void", "about", "tubs", "became",
            "allergens", "use_within_h", "ingredient", "lot_code", "amount_typed", "amount", "unit",
            "instrument", "cup_empty", "cup_mix", "cup_product", "mass_unit", "mix_lb_gal", "overrun",
            "lb_gal", "drawn_at", "minutes", "reading", "reading_two",
        ),
    },
    "vat run event": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "run", "place", "place_name", "what", "happened_at", "product",
            "product_name", "movement", "words", "amends", "amend_reason", "void", "product_class",
            "chart_number", "unit", "indicating_typed", "indicating", "recording_typed", "recording",
            "air_space_typed", "air_space", "instrument", "instrument_unit", "correction", "calibration_due",
            "valve_closed", "leak_drained", "agitated", "cover_closed", "fill_typed", "fill_min",
            "empty_typed", "empty_min",
        ),
    },
    "load event": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "run", "place", "place_name", "what", "happened_at", "product",
            "product_name", "movement", "words", "amends", "amend_reason", "void", "means", "tanker", "ticket",
            "pounds_typed", "pounds", "gallons", "farms", "seals", "seals_whole", "washed_at", "wash_place",
            "wash_by", "agitated_typed", "agitated_min", "looks", "sampler", "sampler_license", "sample",
            "stage", "result", "kit", "kit_lot", "kit_expires", "negative_control", "positive_control",
            "analyst", "certificate", "whom",
        ),
    },
    "load photo": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "load", "file", "note",
        ),
    },
    "wash step": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "wash", "program", "place_in", "step", "started_at", "ended_at",
            "temperature_typed", "temperature", "temperature_unit", "strength_typed", "strength",
            "strength_unit", "flow_typed", "flow", "flow_unit", "note", "amends", "amend_reason", "void",
        ),
        2: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "wash", "program", "place_in", "step", "started_at", "ended_at",
            "temperature_typed", "temperature", "temperature_unit", "strength_typed", "strength",
            "strength_unit", "flow_typed", "flow", "flow_unit", "strip_lot", "strip_expires", "looked",
            "note", "amends", "amend_reason", "void",
        ),
    },
    "strainer or magnet look": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "good", "words", "suspect_since", "check_key", "reading",
            "photo", "note", "amends", "amend_reason", "void", "plan_number",
            "device", "after", "found", "length_typed",
            "length_mm", "hard",
        ),
    },
    "metal detector challenge": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "good", "words", "suspect_since", "check_key", "reading",
            "photo", "note", "amends", "amend_reason", "void", "plan_number",
            "when", "pieces", "rejected",
        ),
    },
    "parts count": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "good", "words", "suspect_since", "check_key", "reading",
            "photo", "note", "amends", "amend_reason", "void", "plan_number",
            "parts",
        ),
    },
    "breakage": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "good", "words", "suspect_since", "check_key", "reading",
            "photo", "note", "amends", "amend_reason", "void", "plan_number",
            "material", "what", "spot",
            "cleared", "all_found", "near", "whole_at",
        ),
    },
    "sample": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "root", "code", "kind", "place", "place_name", "lot", "lot_label", "product",
            "product_name", "farm", "zone", "taken_by", "temperature_typed", "temperature", "temperature_unit",
            "sent_to", "tests", "kept_where", "kept_until", "words", "amends", "amend_reason", "void", "plan_number",
        ),
    },
    "laboratory result": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "sample", "sample_code", "test", "typed", "value", "sign", "unit", "estimated",
            "too_many", "laboratory", "method", "analyst", "given", "words", "amends", "amend_reason", "void",
            "plan_number",
        ),
        2: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "sample", "sample_code", "test", "typed", "value", "sign", "unit", "estimated",
            "too_many", "laboratory", "method", "analyst", "given", "batch", "words", "amends", "amend_reason",
            "void", "plan_number",
        ),
    },
    "chart put on": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "typed", "unit", "value", "instrument", "instrument_name", "not_taken", "reading",
            "note", "amends", "amend_reason", "void", "recorder", "recorder_name", "place", "place_name",
            "plant_name", "chart_number", "shape", "span_typed", "span_min", "put_on_at", "replaces", "event",
            "root",
        ),
    },
    "chart taken off": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "typed", "unit", "value", "instrument", "instrument_name", "not_taken", "reading",
            "note", "amends", "amend_reason", "void", "chart", "recorder", "recorder_name", "chart_number",
            "taken_off_at", "products", "unusual", "unusual_words", "overlapped", "clock_right",
            "clock_against", "clock_words",
        ),
    },
    "chart past span": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "chart", "recorder", "recorder_name", "chart_number", "span_min", "span_ended_at", "sentence",
        ),
    },
    "chart photo": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "chart", "side", "file", "note",
        ),
    },
    "chart signed": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "chart", "covers",
        ),
    },
    "regulator's initials": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "recorder", "recorder_name", "year", "quarter", "written_on", "initials", "name",
            "accuracy", "chart", "note",
        ),
    },
    "chart fit": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "chart", "photo", "shape", "unit", "marks", "first_at", "second_at",
        ),
    },
    "chart compared": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "chart", "photo", "fit", "outcome", "disagree_at", "because",
        ),
    },
    "dispatch": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "lot", "code", "product", "product_name", "dispatched_at", "consignee",
            "address", "phone", "carrier", "quantity_typed", "quantity", "unit", "note", "amends",
            "amend_reason", "void",
        ),
        2: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "lot", "code", "product", "product_name", "dispatched_at", "consignee",
            "address", "phone", "carrier", "quantity_typed", "quantity", "unit", "note", "amends",
            "amend_reason", "void",
            "email", "packed_as",
        ),
    },
    "product returned": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "lot", "part", "code", "product", "product_name", "returned_at", "consignee",
            "quantity_typed", "quantity", "unit", "temperature_typed", "temperature", "temperature_unit",
            "condition", "reason", "kept_where", "note", "amends", "amend_reason", "void",
        ),
    },
    "recall begun": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "mock", "reason", "begun_at", "origin", "origin_words", "lots",
        ),
    },
    "recall step": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "recall", "what", "happened_at", "consignee", "code", "quantity_typed",
            "quantity", "unit", "words", "lots", "amends", "amend_reason", "void",
        ),
        2: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "recall", "what", "happened_at", "consignee", "code", "quantity_typed",
            "quantity", "unit", "words", "lots", "amends", "amend_reason", "void",
            "part",
        ),
    },
    "recall ended": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials",
            "by_role", "tablet",
            "form_id", "recall", "ended_at", "outcome", "minutes", "made", "accounted", "unit",
            "percent", "why_none", "missing",
        ),
    },
    "line clearance": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "product", "product_name", "note", "amends",
            "amend_reason", "void", "before", "before_name", "things", "clear",
        ),
    },
    "line clearance check": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "product", "product_name", "note", "amends",
            "amend_reason", "void", "clearance", "agrees",
        ),
    },
    "packaging opened": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "product", "product_name", "note", "amends",
            "amend_reason", "void", "kind", "roll_code", "printed", "printed_name", "matches", "used",
            "issued_typed", "issued", "photo",
        ),
    },
    "packaging counted": {
        1: (
            "id", "number", "act", "observed_at", "received_at", "by_id", "by_name", "by_initials", "by_role",
            "tablet", "form_id", "place", "place_name", "product", "product_name", "note", "amends",
            "amend_reason", "void", "opened", "roll_code", "used_typed", "used", "returned_typed",
            "returned", "damaged_typed", "damaged", "difference", "because",
        ),
    },
}
