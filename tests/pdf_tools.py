"""Other people's programs look at a PDF: pdfsig, pdftoppm (poppler-utils), qpdf, certutil (libnss3-tools)."""

from __future__ import annotations

import re
import subprocess
import tempfile
from pathlib import Path
from typing import Any

_LINE = re.compile(r"  - (?P<key>[^:]+?)(?:: (?P<value>.*))?$")
_SIGNATURE = re.compile(r"Signature #(\d+):")


def pdfsig_report(pdf_path: Path, root_pem: str) -> list[dict[str, Any]]:
    """What pdfsig says of each signature, trusting the plant's root and nothing else.

    Keys: `field`, `signer`, `time` (UTC text), `type`, `whole` (covers the file to its end), `valid`,
    `trusted`, and the two sentences behind the last as `validation` and `certificate`. An unsigned field
    has `field` alone. A file that pdfsig cannot read gives an empty list.
    """
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "root.pem"
        root.write_text(root_pem)
        database = f"sql:{folder}"
        _run("certutil", "-N", "-d", database, "--empty-password")
        _run("certutil", "-A", "-d", database, "-n", "plant", "-t", "C,C,C", "-i", str(root))
        found = _run("pdfsig", "-nssdir", database, str(pdf_path), may_fail=True)
    return _parse(found)


def _parse(text: str) -> list[dict[str, Any]]:
    reports: list[dict[str, Any]] = []
    for line in text.splitlines():
        if _SIGNATURE.fullmatch(line):
            reports.append({})
        elif reports and (match := _LINE.fullmatch(line)):
            _note(reports[-1], match["key"], match["value"] or "")
    return reports


def _note(report: dict[str, Any], key: str, value: str) -> None:
    names = {
        "Signature Field Name": "field",
        "Signer Certificate Common Name": "signer",
        "Signing Time": "time",
        "Signature Type": "type",
        "Signature Validation": "validation",
        "Certificate Validation": "certificate",
    }
    if key in names:
        report[names[key]] = value
    if key in ("Total document signed", "Not total document signed"):
        report["whole"] = key.startswith("Total")
    report["valid"] = report.get("validation") == "Signature is Valid."
    report["trusted"] = report.get("certificate") == "Certificate is Trusted."


def qpdf_check(path: Path) -> str:
    """What `qpdf --check` says; raises when it finds an error or a warning. It looks at syntax only."""
    return _run("qpdf", "--check", str(path))


def fonts_of(path: Path) -> dict[str, bool]:
    """Names of the fonts in a document (without the tag of the subset), and whether each is embedded.

    A font that is not among the shipped ones makes the document's looks and bytes depend on the machine.
    """
    rows = [line.split() for line in _run("pdffonts", str(path)).splitlines()[2:]]
    return {row[0].partition("+")[2] or row[0]: row[-5] == "yes" for row in rows}


def pages_as_png(path: Path, folder: Path, dpi: int = 80) -> list[Path]:
    """Each page as a picture, in order."""
    _run("pdftoppm", "-r", str(dpi), "-png", str(path), str(folder / path.stem))
    return sorted(folder.glob(f"{path.stem}-*.png"))


def _run(*command: str, may_fail: bool = False) -> str:
    environment = {"PATH": "/usr/local/bin:/usr/bin:/bin", "LC_ALL": "C.UTF-8", "TZ": "UTC"}
    done = subprocess.run(command, capture_output=True, text=True, errors="replace", env=environment, timeout=60)
    if done.returncode != 0 and not may_fail:
        raise AssertionError(f"{' '.join(command)} ended with {done.returncode}:\n{done.stdout}{done.stderr}")
    return done.stdout
