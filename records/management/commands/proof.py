"""manage.py proof ENTRY --out FILE: what a stranger needs to check one record."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from records.ledger.merkle import ProofFailed
from records.ledger.proof import NoProof, proof_of
from records.ledger.tree import TreeDamaged


class Command(BaseCommand):
    """Writes the proof of one entry as JSON."""

    help = "Write the proof of one record: its text, its path to the newest signed head, and that head."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("entry", type=int, help="the record's number in the ledger, as printed")
        parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="a new file to write")
        parser.add_argument(
            "--since", type=int, metavar="ENTRIES", help="also link the head to an earlier one, over so many entries"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        out: Path = options["out"]
        try:
            proof = proof_of(options["entry"], options["since"])
        except NoProof as error:
            raise CommandError(str(error)) from error
        except (ProofFailed, TreeDamaged) as error:
            raise CommandError(f"The ledger does not lead to its signed head: run manage.py verify ({error})") from None
        try:
            with out.open("x", encoding="utf-8") as file:
                json.dump(proof, file, ensure_ascii=False, indent=1)
                file.write("\n")
        except FileExistsError as error:
            raise CommandError(f"{out} exists; name a new file.") from error
        except OSError as error:
            raise CommandError(f"{out} cannot be written: {error}") from error
        self.stdout.write(
            f"Entry {proof['entry']} of {proof['tree_size']}: {out}. Check it with plant/signing/check_record.py, "
            "with the plant's certificate got by another way."
        )
