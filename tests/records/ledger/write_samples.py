"""Writes the samples that are missing, never one that is there: python -m tests.records.ledger.write_samples"""

from __future__ import annotations

import json
import os


def main() -> None:
    """One file for each version of each kind."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings")
    import django

    django.setup()
    from tests.records.ledger.test_registry import VERSIONS, sample_file, sample_texts

    for kind, version in VERSIONS:
        path = sample_file(kind, version)
        if not path.exists():
            path.parent.mkdir(exist_ok=True)
            text = json.dumps(sample_texts(kind, version), ensure_ascii=False, indent=1)
            path.write_text(text + "\n", encoding="utf-8")
            print(path.name)


if __name__ == "__main__":
    main()
