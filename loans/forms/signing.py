"""How an agreement gets signed: on the screen, on paper with a scan, on paper later, or by a link."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from core.forms import set_choices, set_queryset
from core.photos import PhotoRefusedError, clean_scan, clean_signature
from loans.models import Agreement, AgreementTerms, Guardian, SigningLink, Student
from loans.selectors.agreements import terms_of_key
from loans.services import Signing

OF_THE_TERMS = {"data-of-version": True}  # kept on the device, it is filled in again only under the terms it signed
LATER = "later"
MOST_LINKS = 60  # sent, or printed as codes, in one act
NOW_OR_LATER = (
    *((way.value, way.label) for way in (Agreement.Signed.SCREEN, Agreement.Signed.PAPER)),
    (LATER, _("Paper later")),
)


class SigningFields(forms.Form):
    """The terms that were on the page, and the signatures or the scan of the signed paper."""

    terms = forms.CharField(max_length=9, widget=forms.HiddenInput)  # the key of the version that was on the page
    signed = forms.ChoiceField(choices=NOW_OR_LATER, initial=Agreement.Signed.SCREEN, widget=forms.RadioSelect)
    student_signature = forms.CharField(required=False, widget=forms.HiddenInput(attrs=OF_THE_TERMS))
    guardian_signature = forms.CharField(required=False, widget=forms.HiddenInput(attrs=OF_THE_TERMS))
    guardian_signer = forms.CharField(
        required=False,
        max_length=120,
        label=_("Name of the guardian who signs"),
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    scan = forms.FileField(
        required=False,
        label=_("Scan or photo of the signed paper"),
        error_messages={"empty": _("That file is empty. Take or choose it again.")},
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf,image/*"}),
    )

    @property
    def terms_shown(self) -> AgreementTerms | None:
        """Return the terms that were on the page, or None."""
        return terms_of_key(str(self["terms"].value() or ""))

    def clean_terms(self) -> AgreementTerms:
        terms = self.terms_shown
        if terms is None:
            raise forms.ValidationError(gettext("There is no such version."))
        return terms

    def clean_signing(self, data: dict[str, Any], *, borrower: Student | None, guardian: str = "") -> None:
        """Check what was signed; ``guardian`` signs where nobody typed another name, or the borrower's own guardian."""
        if "terms" in self.errors:  # nobody signs terms that were not on the page
            self.add_error(None, gettext("The terms on this page are no longer available. Reload it and read them."))
        data |= {"signatures": {}, "clean_scan": None}
        if data.get("signed") == Agreement.Signed.PAPER:
            self._clean_scan(data)
        elif data.get("signed") != LATER:
            self._clean_signatures(data, borrower=borrower, guardian=guardian)

    def _clean_scan(self, data: dict[str, Any]) -> None:
        if not data.get("scan"):
            if "scan" not in self.errors:
                self.add_error("scan", gettext("Add a scan or photo of the signed paper."))
            return
        try:
            data["clean_scan"] = clean_scan(data["scan"])
        except PhotoRefusedError as error:
            self.add_error("scan", str(error))

    def _clean_signatures(self, data: dict[str, Any], *, borrower: Student | None, guardian: str) -> None:
        wanted = {"student_signature": gettext("The student has not signed yet.")}
        has_guardians = borrower is None or borrower.has_guardians
        if has_guardians:
            wanted["guardian_signature"] = gettext("The guardian has not signed yet.")
        for name, unsigned in wanted.items():
            if not data.get(name):
                self.add_error(name, unsigned)
                continue
            try:
                data["signatures"][name] = clean_signature(data[name])
            except PhotoRefusedError as error:
                self.add_error(name, str(error))
        signer = data.get("guardian_signer") or guardian
        if has_guardians and not signer and borrower and borrower.pk and borrower.guardian:
            signer = borrower.guardian.name
        if has_guardians and not signer:
            self.add_error("guardian_signer", gettext("Who signs as guardian?"))
        data["guardian_signer"] = signer or ""

    def signing(self) -> Signing | None:
        """Return what ``sign_agreement`` takes, or None if the paper comes later."""
        return None if self.cleaned_data["signed"] == LATER else self.signed_now()

    def signed_now(self) -> Signing:
        data = self.cleaned_data
        return Signing(
            signed=data["signed"],
            terms=data["terms"],
            guardian_signer=data.get("guardian_signer", ""),
            scan=data["clean_scan"],
            student_signature=data["signatures"].get("student_signature", b""),
            guardian_signature=data["signatures"].get("guardian_signature", b""),
        )


class SignForm(SigningFields):
    """Sign for a loan that is out already."""

    def __init__(self, *args: Any, borrower: Student, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.borrower = borrower
        signed = self.fields["signed"]
        signed.choices = NOW_OR_LATER[:2]  # type: ignore[attr-defined]
        signed.initial = Agreement.Signed.PAPER

    @property
    def has_guardians(self) -> bool:
        return self.borrower.has_guardians

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        self.clean_signing(data, borrower=self.borrower)
        return data


class GuardianField(forms.ModelChoiceField):  # type: ignore[type-arg]  # not generic at run time
    def label_from_instance(self, obj: Any) -> str:
        ways = gettext("e-mail %(address)s") % {"address": obj.email} if obj.email else gettext("no e-mail address")
        return f"{obj.name or obj}, {obj.get_language_display()}, {ways}"


class SendLinkForm(forms.Form):
    """To which guardian, and which way."""

    guardian = GuardianField(
        queryset=Guardian.objects.none(), label=_("To"), empty_label=None, widget=forms.RadioSelect
    )
    way = forms.ChoiceField(choices=SigningLink.Way, label=_("How"), widget=forms.RadioSelect)

    def __init__(self, *args: Any, guardians: QuerySet[Guardian], has_mail: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        set_queryset(self, "guardian", guardians)
        if not has_mail:
            set_choices(self, "way", [(SigningLink.Way.PRINT, SigningLink.Way.PRINT.label)])
        self.fields["guardian"].initial = guardians.first()
        self.fields["way"].initial = SigningLink.Way.MAIL if has_mail else SigningLink.Way.PRINT


class SignByLinkForm(forms.Form):
    """What a guardian types and ticks, in the guardian's language. ``seen`` is the hash of the text on the page."""

    seen = forms.CharField(max_length=64, widget=forms.HiddenInput)
    signer = forms.CharField(max_length=120, widget=forms.TextInput(attrs={"autocomplete": "name"}))
    is_signed = forms.BooleanField()

    def __init__(self, *args: Any, words: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("signer", "is_signed"):
            self.fields[name].label = words[f"link_{name}"]
            self.fields[name].error_messages["required"] = words[f"link_{name}_missing"]
