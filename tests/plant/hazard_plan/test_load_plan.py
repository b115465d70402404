"""manage.py load_plan: a draft, never an approval; a wrong line by its number; the same again adds nothing."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.written import plan_of, read
from plant.people.models import Person
from records.people.models import PlanApproval

pytestmark = pytest.mark.django_db

QUILLBROOK = Path("plant/demo/quillbrook.toml")
VALLE_HONDO = Path("tests/plans/valle_hondo.toml")


def load(path: Path, *arguments: str) -> tuple[str, str]:
    """What the command writes to its output and its errors."""
    out, err = StringIO(), StringIO()
    call_command("load_plan", str(path), *arguments, stdout=out, stderr=err)
    return out.getvalue(), err.getvalue()


def changed(tmp_path: Path, text: str, instead: str) -> tuple[Path, int]:
    """The second plant's plan with one text replaced, and the line it stands on."""
    written = VALLE_HONDO.read_text(encoding="utf-8")
    assert written.count(text) == 1
    path = tmp_path / "plan.toml"
    path.write_text(written.replace(text, instead), encoding="utf-8")
    return path, written[: written.index(text)].count("\n") + 1


@pytest.mark.parametrize("path", [QUILLBROOK, VALLE_HONDO], ids=["quillbrook", "valle hondo"])
def test_a_written_plan_becomes_a_draft_that_reads_back_equal(path):
    """Both plants load without a word of warning, and their drafts say what the files say."""
    out, err = load(path)
    version = PlanVersion.objects.get()
    assert "stored as the draft of version 1" in out
    assert err == ""
    assert plan_of(version) == read(path.read_text(encoding="utf-8"))


def test_it_never_approves():
    """Loading leaves no approval and no signature."""
    load(VALLE_HONDO)
    assert not PlanApproval.objects.exists()


def test_the_same_content_again_adds_nothing_and_says_so():
    """A second load of the same file leaves one version."""
    load(VALLE_HONDO)
    out, _err = load(VALLE_HONDO)
    assert "version 1 says the same already. Nothing was added." in out
    assert PlanVersion.objects.count() == 1


def test_who_made_it_is_kept():
    """--by names the person on the draft."""
    person = Person.objects.create(sign_in="marina", name="Marina Soto", initials="MS")
    load(VALLE_HONDO, "--by", "marina")
    assert PlanVersion.objects.get().made_by == person


def test_an_unknown_person_is_refused():
    """Nobody is invented."""
    with pytest.raises(CommandError, match="Nobody has the sign-in name 'nobody'"):
        load(VALLE_HONDO, "--by", "nobody")


@pytest.mark.parametrize(
    ("text", "instead", "words"),
    [
        ('time_zone = "Europe/Madrid"', 'time_zon = "Europe/Madrid"', "is not a name that a plan knows"),
        ('name = "Tanque único"', 'name = "Tanque único', "this is not TOML"),
        ('capacity = "2500.5"', 'capacity = "2500,5"', "is no number"),
        ('calibration_due = "2027-12-31"', 'calibration_due = "31/12/2027"', "is no date"),
    ],
)
def test_a_wrong_line_is_named_by_its_number(tmp_path, text, instead, words):
    """The sentence starts with the number of the wrong line, and nothing is stored."""
    path, line = changed(tmp_path, text, instead)
    err = StringIO()
    with pytest.raises(CommandError) as caught:
        call_command("load_plan", str(path), stderr=err)
    said = str(caught.value) + err.getvalue()
    assert f"line {line}: " in said and words in said
    assert not PlanVersion.objects.exists()


def test_a_limit_laxer_than_a_mirror_is_listed_and_stored(tmp_path):
    """What waits for a confirmation is listed by line; the draft is stored, because a draft may be unfinished."""
    path, line = changed(tmp_path, 'high = "6"\noperating', 'high = "8"\noperating')
    _out, err = load(path)
    assert f"line {line - 4}: to confirm: limits[0]: frio-6 is laxer" in err
    assert PlanVersion.objects.count() == 1


def test_a_file_that_is_not_there_is_one_sentence(tmp_path):
    """No traceback for a wrong path."""
    with pytest.raises(CommandError, match=r"cannot be read \(No such file or directory\)"):
        load(tmp_path / "none.toml")


def test_a_file_that_is_not_text_is_named_by_its_line(tmp_path):
    """Bytes that are no UTF-8 are named by line."""
    path = tmp_path / "plan.toml"
    path.write_bytes(b'title = "x"\nname = "\xff"\n')
    with pytest.raises(CommandError, match="line 2: this is not UTF-8 text"):
        load(path)
