"""The signed day sheet against the layout engine alone: python -m tests.benchmarks day_sheet.

Both sides set the same HTML as the same PDF variant. Ours adds what a sheet needs: the page's text from the day's data,
the chart's drawing, the attached files, the signature fields and two signatures. The day is the demo's second, as the
demo builds, closes and signs it. Times are the least of several runs, taken in turns, in a warm process; the ratio is
of processor time, so that a busy machine does not matter.
"""

from __future__ import annotations

import argparse
import json
import os
import tempfile
import time
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from plant.demo.environment import DATABASE
from tests.benchmarks.machine_part import machine

RUNS = 2
ROOT = Path(__file__).parents[2]
LARGEST_RATIO = 1.7


def main(arguments: list[str]) -> int:
    """Run it and print the figures, JSON on the last line; 1 when the ratio is above the bound."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks day_sheet", description=__doc__)
    parser.add_argument("--runs", type=int, default=RUNS, help="runs of each side")
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory(prefix="daybook-sheet-") as folder:
        result = _in(Path(folder), max(1, chosen.runs))
    print(json.dumps(result, sort_keys=True))
    return 0 if result["ratio"] <= LARGEST_RATIO else 1


def _in(folder: Path, runs: int) -> dict[str, Any]:
    os.environ |= {
        "DATABASE_URL": f"sqlite:///{folder / DATABASE}",
        "DATA_DIR": str(folder),
        "SECRET_KEY": "benchmark",
        "DJANGO_SETTINGS_MODULE": "plant.settings",
    }
    for name in ("KEYS_DIR", "FILES_DIR"):
        os.environ.pop(name, None)  # they are in DATA_DIR, as the demo has them
    import django

    django.setup()
    return _measure(runs)


def _measure(runs: int) -> dict[str, Any]:
    import weasyprint

    from plant import clock
    from records.demo import building
    from records.review import queries, sheet

    began = time.perf_counter()
    day = building.build_once(lambda _line: None, how_many=2).days[1]
    print(f"the demo's first two days built in {time.perf_counter() - began:.1f} s", flush=True)
    closing = queries.closing(day)
    assert closing is not None
    with clock.replaced(lambda: closing.received_at):
        data = sheet.sheet_data(day, closing.revision, closing.received_at)
        signed, ours, alone = b"", [], []
        html = _ours(data, closing.received_at)[1]  # both sides are warm from here on
        for _run in range(runs):  # in turns, so that a busy machine is busy for both
            mine, (signed, html) = _timed(_ours, data, closing.received_at)
            theirs, _pdf = _timed(_alone, html)
            ours.append(mine)
            alone.append(theirs)
            print(f"ours {mine[0]:.3f} s, the engine alone {theirs[0]:.3f} s of the processor", flush=True)
    (cpu, wall), (cpu_alone, wall_alone) = min(ours), min(alone)
    return {
        "benchmark": "day_sheet",
        "ratio": round(cpu / cpu_alone, 3),
        "ours_s": round(cpu, 4),
        "engine_alone_s": round(cpu_alone, 4),
        "ours_wall_s": round(wall, 4),
        "engine_alone_wall_s": round(wall_alone, 4),
        "runs": runs,
        "pages": _pages(signed),
        "day": str(day),
        "checks": data["completeness"]["due"],
        "bytes": len(signed),
        "signatures": 2,
        "machine": machine() | {"weasyprint": weasyprint.__version__},
    }


def _ours(data: dict[str, Any], at: datetime) -> tuple[bytes, str]:
    """From the day's data to the twice signed PDF, and the HTML it was made from."""
    from plant.people.models import Person
    from plant.signing.pdf import sign_pdf
    from records.people.keys import authority
    from records.reports.pdf import render_sheet, static_dir
    from records.review import actions as review

    rendered = render_sheet(data)
    signed, keys = rendered.data, authority()
    for name, role in (("tomas", review.OPERATOR_IN_CHARGE), ("wren", review.SUPERVISOR)):
        person = Person.objects.get(sign_in=name)
        material = keys.material(str(person.id), at)
        meaning = review.meaning_of(role, own_work=False)
        field = review.FIELDS[role]
        signed = sign_pdf(
            signed,
            material,
            name=person.name,
            role=role,
            reason=meaning,
            at=at,
            field_name=field,
            static_dir=static_dir(),
        )
    return signed, rendered.html


def _alone(html: str) -> bytes:
    """WeasyPrint, its defaults, the same page and variant; its own files are read through the same door."""
    from weasyprint import HTML

    from plant.signing.static_files import StaticFiles

    files = StaticFiles(ROOT / "static")
    pdf: bytes = HTML(string=html, base_url=files.base_url, url_fetcher=files).write_pdf(pdf_variant="pdf/a-3b")
    return pdf


def _timed(run: Callable[..., Any], *given: Any) -> tuple[tuple[float, float], Any]:
    """Seconds of the processor, seconds of the wall clock, and what came of it."""
    began, cpu = time.perf_counter(), time.process_time()
    found = run(*given)
    return (time.process_time() - cpu, time.perf_counter() - began), found


def _pages(pdf: bytes) -> int:
    from records.reports.pdf import page_count

    return page_count(pdf)


__all__ = ["main"]
