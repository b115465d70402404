"""The virtual environment: made from pinned lists, known to be whole, repaired when it is not. No network."""

from __future__ import annotations

import base64
import hashlib
import os
import shutil
import tempfile
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from plant import bootstrap_environment
from plant.bootstrap_environment import MARK, STAMP, Environment, PipReader, pins
from plant.bootstrap_terminal import CannotPrepare

pytestmark = [pytest.mark.once, pytest.mark.slow]


def digest(text: str) -> str:
    """SHA-256 as a RECORD writes it: base64 for addresses, without padding."""
    return base64.urlsafe_b64encode(hashlib.sha256(text.encode()).digest()).decode().rstrip("=")


def make_wheel(folder: Path, name: str) -> str:
    """A wheel with one module (PyPA binary distribution format); returns its SHA-256."""
    files = {
        f"{name}.py": "ANSWER = 42\n",
        f"{name}-1.0.dist-info/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n",
        f"{name}-1.0.dist-info/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{path},sha256={digest(text)},{len(text)}\n" for path, text in files.items())
    files[f"{name}-1.0.dist-info/RECORD"] = f"{record}{name}-1.0.dist-info/RECORD,,\n"
    wheel = folder / f"{name}-1.0-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as packed:
        for path, text in files.items():
            packed.writestr(path, text)
    return hashlib.sha256(wheel.read_bytes()).hexdigest()


@pytest.fixture(autouse=True)
def shelf(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of wheels that takes the place of the package index."""
    folder = tmp_path_factory.mktemp("shelf")
    monkeypatch.setenv("PIP_NO_INDEX", "1")
    monkeypatch.setenv("PIP_FIND_LINKS", str(folder))
    return folder


@pytest.fixture
def environment(tmp_path: Path, shelf: Path) -> Environment:
    """A project that pins one package; nothing is made yet."""
    pin(tmp_path, "butter", make_wheel(shelf, "butter"))
    return Environment(tmp_path, ("requirements.txt",))


def pin(root: Path, name: str, digest: str) -> None:
    (root / "requirements.txt").write_text(f"{name}==1.0 \\\n    --hash=sha256:{digest}\n    # via nothing\n")


def test_environment_is_made_stamped_and_then_left_alone(environment: Environment, shelf: Path):
    """After preparing, the packages are there; a second start sees it from the files alone."""
    assert not environment.is_prepared()
    environment.prepare()
    assert environment.is_prepared()
    assert not (environment.folder / MARK).exists()
    shutil.rmtree(shelf)
    assert environment.is_prepared()


def test_changed_list_is_installed_into_the_same_environment(environment: Environment, shelf: Path):
    """A changed pinned list makes the stamp stale; installing it keeps the environment."""
    environment.prepare()
    (environment.folder / "kept").touch()
    pin(environment.root, "cheese", make_wheel(shelf, "cheese"))
    assert not environment.is_prepared()
    environment.prepare()
    assert environment.is_prepared()
    assert (environment.folder / "kept").exists()


def test_interrupted_environment_is_made_again(environment: Environment):
    """The mark of unfinished work makes the next start begin afresh."""
    environment.folder.mkdir()
    (environment.folder / MARK).touch()
    (environment.folder / "half").touch()
    environment.prepare()
    assert environment.is_prepared()
    assert not (environment.folder / "half").exists()


def test_lost_file_of_a_package_is_noticed_and_repaired(environment: Environment):
    """A package without one of its files is unsound, even though pip counts it as installed."""
    environment.prepare()
    assert environment.site_packages is not None
    module = environment.site_packages / "butter.py"
    module.unlink()
    assert not environment.is_sound()
    environment.prepare()
    assert module.exists()


def test_lost_package_makes_the_environment_unprepared(environment: Environment):
    """A pinned package that is gone is noticed by the quick look."""
    environment.prepare()
    assert environment.site_packages is not None
    shutil.rmtree(environment.site_packages / "butter-1.0.dist-info")
    assert not environment.is_prepared()


def test_lost_python_makes_the_environment_unsound(environment: Environment):
    """A dangling link to a Python that was removed is neither prepared nor sound."""
    environment.prepare()
    environment.python.unlink()
    environment.python.symlink_to("/nowhere/python3")
    assert not environment.is_prepared()
    assert not environment.is_sound()


def test_package_with_another_hash_is_refused(environment: Environment):
    """A wheel whose bytes differ from the pin is not installed, and the environment counts as unfinished."""
    pin(environment.root, "butter", "0" * 64)
    with pytest.raises(CannotPrepare, match="could not be installed"):
        environment.prepare()
    assert (environment.folder / MARK).exists()
    assert not (environment.folder / STAMP).exists()


def test_file_in_the_place_of_the_folder_is_left_alone(environment: Environment):
    """Something else named .venv is not removed."""
    environment.folder.write_text("a person's own notes")
    with pytest.raises(CannotPrepare, match="is in the way"):
        environment.prepare()
    assert environment.folder.read_text() == "a person's own notes"


def test_missing_list_is_named(tmp_path: Path):
    """Without its pinned list the project says which file it misses."""
    with pytest.raises(CannotPrepare, match=r"requirements\.txt cannot be read"):
        Environment(tmp_path, ("requirements.txt",)).prepare()


@pytest.fixture
def without_power() -> Iterator[None]:
    """The block runs without root's power to write everywhere."""
    before = os.geteuid()
    if before == 0:
        os.seteuid(65534)
    yield
    os.seteuid(before)


@pytest.fixture
def closed_folder() -> Iterator[Path]:
    """A folder that its visitor may read and not write."""
    folder = Path(tempfile.mkdtemp(dir="/tmp"))
    (folder / "requirements.txt").touch()
    folder.chmod(0o555)
    yield folder
    folder.chmod(0o755)
    shutil.rmtree(folder)


def test_folder_without_write_permission_gets_one_sentence(closed_folder: Path, without_power: None):
    """A folder that cannot be written is named, with what to do."""
    with pytest.raises(CannotPrepare, match=f"folder {closed_folder} cannot be written. Copy the project"):
        Environment(closed_folder, ("requirements.txt",)).prepare()


def test_pins_are_read_as_pep_503_compares_them():
    """Names are normalized (PEP 503: runs of - _ . become one -, lower case); comments are no pins."""
    text = "Django_Stubs.Ext==6.1.2 \\\n    --hash=sha256:00\n# old==1\npsycopg==3.3.9 ; python_version > '3'\n"
    assert pins(text) == {"django-stubs-ext": "6.1.2", "psycopg": "3.3.9"}


def test_pip_output_becomes_a_count():
    """Each package that pip names moves the count on, never past the total."""
    read = PipReader(1)
    assert read("Collecting butter==1.0 (from -r list)") == "1 of 1: butter"
    assert read("Requirement already satisfied: cheese==1.0 in x") == "1 of 1: cheese"
    assert read("  Using cached butter.whl") is None


def test_project_pins_every_package_with_hashes():
    """Both lists of this project are exact pins, each with at least one hash (pip's hash-checking mode)."""
    root = Path(bootstrap_environment.__file__).resolve().parents[1]
    for name in ("requirements.txt", "tests/requirements.txt"):
        text = (root / name).read_text(encoding="utf-8")
        blocks = [block for block in text.split("\n") if block and not block.startswith((" ", "#"))]
        assert len(blocks) == len(pins(text)), name
        assert text.count("==") <= text.count("--hash=sha256:"), name
