"""What people may type about themselves and others. Forms only parse; acts decide."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.forms.layout import ActionBar
from plant.people.models import Person, Role
from records.people import sessions
from records.people.queries import holders
from records.people.refused import Refused, Words

if TYPE_CHECKING:
    from records.people.middleware import Request

LONGEST_SECRET = 200
LONGEST_REASON = 2000
LONGEST_ACCOUNT_YEARS = 10
MOST_TO_TAP = 8  # names that stand as rows to tap; more of them are a list to choose from


class Form(forms.Form):
    """A form in our look: its fields, then one bar with the main act and, if given, the way out."""

    main: Words = _("Save")
    out: Words = ""
    wrong: Words = ""  # heads the summary of errors; empty: 'Not saved yet'

    def __init__(self, *args: Any, out_url: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.out_url = out_url

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        helper = FormHelper()
        helper.form_error_title = self.wrong
        bar = ActionBar(self.main, self.out if self.out_url else "", out_url=self.out_url)
        helper.layout = Layout(*self.fields, bar)
        return helper

    def refuse(self, refused: Refused) -> None:
        """Show what an act refused, beside its field when the form has it."""
        self.add_error(refused.field if refused.field in self.fields else None, str(refused.sentence))


def secret_field(label: Words, *, pin: bool, fresh: bool = False, help_text: Words = "") -> forms.CharField:
    """A PIN or password box: never filled again, number keys for a PIN."""
    attrs = {"autocomplete": "new-password" if fresh else ("off" if pin else "current-password")}
    if pin:
        attrs |= {"inputmode": "numeric", "class": "pin-input"}
    return forms.CharField(
        label=label,
        strip=False,
        max_length=LONGEST_SECRET,
        widget=forms.PasswordInput(attrs=attrs),
        help_text=help_text,
    )


def operators() -> list[Person]:
    """Who may tap their name on a tablet."""
    return holders(Role.OPERATOR, clock.now())


def reason_field(label: Words, help_text: Words = "") -> forms.CharField:
    """Why: one or more lines."""
    return forms.CharField(
        label=label, max_length=LONGEST_REASON, widget=forms.Textarea(attrs={"rows": 3}), help_text=help_text
    )


def _signer_field(names: list[tuple[str, str]]) -> forms.ChoiceField:
    """Who signs on a shared tablet: names to tap where they are few; none chosen beforehand."""
    label, wrong = _("Who signs"), {"required": _("Choose your name")}
    if len(names) <= MOST_TO_TAP:
        return forms.ChoiceField(label=label, choices=names, widget=forms.RadioSelect, error_messages=wrong)
    return forms.ChoiceField(label=label, choices=[("", _("Choose your name")), *names], error_messages=wrong)


class SignatureFields(Form):
    """The two components afresh, at the end of a form that signs. Made with `request=`; then `signature_actor`.

    Who opened the page with a PIN on an enrolled tablet chooses their name and gives the PIN; everybody else gives
    sign-in name and password. Neither is filled in beforehand.
    """

    main: Words = _("Sign")

    def __init__(self, *args: Any, request: Request, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pin = request.session.get(sessions.SHOWN) == "PIN"
        if self.pin:
            self.fields["signer"] = _signer_field([(str(one.id), one.name) for one in operators()])
            self.fields["signer_secret"] = secret_field(_("PIN"), pin=True)
        else:
            box = forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"})
            self.fields["signer"] = forms.CharField(label=_("Your sign-in name"), max_length=60, widget=box)
            self.fields["signer_secret"] = secret_field(_("Password"), pin=False)

    def names(self, person: Person) -> bool:
        """Whether the name given is this person's."""
        wanted = str(person.id) if self.pin else person.sign_in
        return bool(self.cleaned_data.get("signer", "") == wanted)


class SignedLayout(SignatureFields):
    """The two components afresh, in a form that lays itself out (`layout`) and has them in it."""

    @property
    def helper(self) -> FormHelper:
        laid_out: FormHelper = self.layout()  # type: ignore[attr-defined]
        return laid_out


class PasswordSignIn(Form):
    """Sign-in name and password."""

    main = _("Sign in")
    wrong = _("Not opened")

    sign_in = forms.CharField(
        label=_("Sign-in name"),
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    password = secret_field(_("Password"), pin=False)
    next = forms.CharField(required=False, max_length=1000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # On a tablet the page of names would answer otherwise.
        self.fields["with"] = forms.CharField(required=False, initial="password", widget=forms.HiddenInput)


class PinSignIn(Form):
    """The PIN of the name that was tapped."""

    main = _("Open the book")
    wrong = _("Not opened")
    out = _("Another name")

    pin = secret_field(_("PIN"), pin=True)
    who = forms.UUIDField(widget=forms.HiddenInput)
    next = forms.CharField(required=False, max_length=1000, widget=forms.HiddenInput)


class Unlock(Form):
    """The PIN or password that opens a locked page again; `carried` holds what was sent while it was locked."""

    main = _("Go on")
    wrong = _("Not opened")

    def __init__(self, *args: Any, request: Request, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.pin = request.session.get(sessions.SHOWN) == "PIN"
        assert request.person is not None
        if self.pin:
            names = [(str(one.id), one.name) for one in operators()]
            self.fields["unlock_who"] = forms.ChoiceField(
                label=_("Who is here"), choices=names, initial=str(request.person.id)
            )
        self.fields["unlock_secret"] = secret_field(_("PIN") if self.pin else _("Password"), pin=self.pin)
        self.fields["carried"] = forms.CharField(required=False, strip=False, widget=forms.HiddenInput)


class AddPerson(SignatureFields):
    """A new person; they choose their own PIN or password through a link."""

    main = _("Add, signed")

    sign_in = forms.CharField(
        label=_("Sign-in name"), max_length=60, widget=forms.TextInput(attrs={"autocapitalize": "none"})
    )
    name = forms.CharField(
        label=_("Printed name"), max_length=120, help_text=_("As it stands on records and signatures.")
    )
    initials = forms.CharField(label=_("Initials"), max_length=6)
    email = forms.EmailField(label=_("E-mail"), required=False, max_length=254)
    language = forms.ChoiceField(label=_("Language"), choices=settings.LANGUAGES)
    roles = forms.MultipleChoiceField(label=_("Roles"), choices=Role.choices, widget=forms.CheckboxSelectMultiple)
    expires_on = forms.DateField(
        label=_("Last day"),
        required=False,
        help_text=_("For a guest such as an inspector: the account ends by itself after this day."),
        widget=forms.DateInput(attrs={"type": "date"}),
    )

    def __init__(self, *args: Any, request: Request, **kwargs: Any) -> None:
        super().__init__(*args, request=request, **kwargs)
        self.zone = request.zone or "UTC"

    def clean(self) -> dict[str, Any]:
        """Adds `expires_at`: the moment at which the last day ends where the plant is."""
        data = super().clean() or {}
        last, now = data.get("expires_on"), clock.now()
        data["expires_at"] = None
        if last is not None and not now.year <= last.year <= now.year + LONGEST_ACCOUNT_YEARS:
            self.add_error("expires_on", _("Choose a day within the next years."))
        elif last is not None:
            data["expires_at"] = datetime.combine(last + timedelta(days=1), time(), ZoneInfo(self.zone))
        return data


class Because(SignatureFields):
    """A reason and a signature: for most acts on an account."""

    reason = reason_field(_("Why"))


class RoleChange(Because):
    """Which role, why, and a signature."""

    role = forms.ChoiceField(label=_("Role"), choices=Role.choices)
    field_order = ["role", "reason"]

    def __init__(self, *args: Any, request: Request, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, request=request, **kwargs)
        self.fields["role"].choices = choices  # type: ignore[attr-defined]


class Seen(SignatureFields):
    """How a supervisor knows who someone is."""

    seen = reason_field(_("How you know who this is"), _("Known by sight since when, or which document you looked at."))


class NewSecret(Form):
    """A new PIN or password, twice."""

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pin = kind == "PIN"
        label, again = (_("New PIN"), _("New PIN again")) if pin else (_("New password"), _("New password again"))
        help_text = (
            _("Six to twelve digits that nobody guesses. Nobody else ever sees it.")
            if pin
            else _("Ten characters or more. Nobody else ever sees it.")
        )
        self.fields["secret"] = secret_field(label, pin=pin, fresh=True, help_text=help_text)
        self.fields["again"] = secret_field(again, pin=pin, fresh=True)

    def clean(self) -> dict[str, Any]:
        """Both must be the same."""
        data = super().clean() or {}
        if data.get("secret") and data.get("again") and data["secret"] != data["again"]:
            self.add_error("again", _("The two are not the same."))
        return data


class EnrolTablet(SignatureFields):
    """A tablet's name and place."""

    main = _("Enrol, signed")

    name = forms.CharField(label=_("Name of the tablet"), max_length=60)
    place = forms.CharField(label=_("Where it is used"), max_length=120, required=False)


class SignPlan(SignatureFields):
    """The signature under a draft; the hash says which content was read."""

    signed_hash = forms.CharField(max_length=64, widget=forms.HiddenInput)
    in_force_from = forms.DateTimeField(
        label=_("In force from"),
        required=False,
        help_text=_("Empty: at the second signature. Never earlier. Time at the plant."),
        widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
    )
