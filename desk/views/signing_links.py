"""A link by which a guardian signs: sent and revoked by staff, opened on any phone."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.decorators import method_decorator
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext, ngettext
from django.views import View
from django.views.decorators.debug import sensitive_post_parameters

from core.pdf import PdfError
from core.responses import file_response, home_url
from core.views import FormView, SearchedView, StaffRequest, StaffView, list_filter, pdf_response, public, row_or_404
from desk.services.signing import mail_link, mail_links, sign_by_link
from inventory.exceptions import RefusedError
from loans.exceptions import AgreementRefusedError, OpenedTooOftenError
from loans.forms.signing import MOST_LINKS, SendLinkForm, SignByLinkForm
from loans.models import Loan, SigningLink
from loans.pages.signing_links import gone_page, link_line, paused_page, signed_page, signing_page
from loans.pdf import content_of
from loans.pdf.signing_links import agreement_text, links_pdf
from loans.selectors.families import LANGUAGES, words_in
from loans.selectors.lending import schools_with_names
from loans.selectors.signing_links import OPENS, Standing, days_open, is_just_signed, link_of, links_of, standing_of
from loans.services.signing_links import deny_link, make_codes, make_link, new_token, open_link, revoke_link
from loans.views.loans import loan_filter

LEND = "loans.lend_instrument"
AN_HOUR = 3600  # seconds
COOKIE = "desk.signing_links"  # its salt


def print_links(request: StaffRequest, codes: Sequence[tuple[SigningLink, str]]) -> bytes:
    """Return the papers; if they cannot be made, nobody has these codes, and none is to stand in the way of another."""
    try:
        return links_pdf(codes, home=home_url(request))
    except PdfError:
        for link, _token in codes:
            revoke_link(link=link, actor=request.user, at=timezone.now())
        raise


class SendLinkView(FormView):
    """Send a guardian a link, or print one; which there are, and where each stands."""

    permission_required = LEND
    template_name = "desk/send_link.html"
    row_name = "loan"

    def row(self, **lookup: Any) -> Loan:
        rows = Loan.objects.visible_to(self.request.user, LEND).for_table()
        return row_or_404(rows.select_related("agreement", "hand_out", "actor"), pk=lookup["pk"])

    def form(self, row: Loan, data: Any = None) -> SendLinkForm:
        return SendLinkForm(data, guardians=row.student.guardians.all(), has_mail=settings.MAIL_IS_SET)

    def post(self, request: StaffRequest, **lookup: Any) -> HttpResponse:
        row = self.row(**lookup)
        form = self.form(row, request.POST)
        if form.is_valid():
            try:
                if form.cleaned_data["way"] == SigningLink.Way.PRINT:
                    return self.printed(row, form)
                return HttpResponseRedirect(self.save(row, form))
            except RefusedError as error:
                form.add_error(None, str(error))
            except PdfError:
                form.add_error(None, gettext("The PDF could not be made, so no link was kept. Please contact support."))
        return self.shown(row, form, status=422)

    def printed(self, row: Loan, form: SendLinkForm) -> HttpResponse:
        token, guardian = new_token(), form.cleaned_data["guardian"]
        link = make_link(loan=row, guardian=guardian, token=token, **self.actor_and_time())
        return file_response(print_links(self.request, [(link, token)]), name="link-to-sign.pdf")

    def save(self, row: Loan, form: SendLinkForm) -> str:
        guardian = form.cleaned_data["guardian"]
        mail_link(loan=row, guardian=guardian, home=home_url(self.request), **self.actor_and_time())
        return self.done(
            gettext("The link is on its way. This page shows when it is sent and opened."), "desk:send-link", row.pk
        )

    def context(self, row: Loan, form: SendLinkForm) -> dict[str, Any]:
        is_pending = row.is_open and not row.is_signed_elsewhere and not hasattr(row, "agreement")
        return {
            "may_send": is_pending and row.student.has_guardians and form.fields["guardian"].queryset.exists(),  # type: ignore[attr-defined]
            "is_pending": is_pending,
            "lines": [link_line(*one) for one in links_of(row, at=timezone.now())],
            "days": days_open(),
            "has_mail": settings.MAIL_IS_SET,
        }


class SendLinksView(SearchedView):
    """Send links for all loans that the list shows, or print codes for those who cannot be mailed to."""

    permission_required = LEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest) -> HttpResponse:
        now = timezone.now()
        form = loan_filter(request.user, self.with_words(request.POST))
        rows = Loan.objects.visible_to(request.user, LEND)
        found = form.narrow(
            rows, today=timezone.localdate(), now=now, named_schools=schools_with_names(request.user)
        ).unsigned()
        loans = list(found.order_by("pk")[: MOST_LINKS + 1])
        query = {name: value for name, value in list_filter(request.POST) if name not in {"way", "csrfmiddlewaretoken"}}
        back = redirect(reverse("loans:list", query=query))
        if len(loans) > MOST_LINKS:
            words = gettext("At most %(most)d at once. Narrow the list down, such as to one class.")
            messages.error(request, words % {"most": MOST_LINKS})
        elif request.POST.get("way") == SigningLink.Way.PRINT:
            return self.printed(loans, back)
        else:
            sent = len(mail_links(loans=loans, home=home_url(request), actor=request.user, at=now))
            words = ngettext("%(n)d link is on its way.", "%(n)d links are on their way.", sent)
            nothing = gettext("There is no link to send: each loan has one, or nobody to mail it to.")
            if sent:
                messages.success(request, words % {"n": sent})
            else:
                messages.info(request, nothing)
        return back

    def printed(self, loans: list[Loan], back: HttpResponse) -> HttpResponse:
        codes = make_codes(loans=loans, actor=self.request.user, at=timezone.now())
        if not codes:
            words = gettext("There is no code to print: each loan has a link, or can be mailed one.")
            messages.info(self.request, words)
            return back
        return pdf_response(
            self.request,
            lambda: print_links(self.request, codes),
            name="links-to-sign.pdf",
            failed=gettext("The PDF could not be made, so no link was kept. Please contact support."),
            back=back,
        )


class RevokeLinkView(StaffView):
    """End a link that went to the wrong person or is no longer wanted."""

    permission_required = LEND
    http_method_names = ["post", "options"]

    def post(self, request: StaffRequest, pk: int, link: int) -> HttpResponse:
        row = row_or_404(SigningLink.objects.visible_to(request.user, LEND), pk=link, loan=pk)
        revoke_link(link=row, actor=request.user, at=timezone.now())
        return redirect("desk:send-link", pk)


@public
@method_decorator(sensitive_post_parameters("signer"), name="dispatch")
class SignByLinkView(View):
    """What a guardian's phone opens: the agreement of one loan, to be signed once, and nothing else.

    Who only follows the link, a mail filter for instance, sees whom it is from. Opening it is an act of its own: it is
    counted and logged, and for a while lets this browser read.
    """

    def dispatch(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        response = super().dispatch(request, *args, **kwargs)
        # The address is the key: no other page and no log of one is to see it. A policy of "no-referrer" would have the
        # browser send the form with the origin "null", which Django refuses.
        response["Referrer-Policy"] = "strict-origin"
        response["X-Robots-Tag"] = "noindex, nofollow"
        return response

    def get(self, request: HttpRequest, token: str) -> HttpResponse:
        at, link = timezone.now(), link_of(token)
        if link is None or standing_of(link, at=at) not in OPENS:
            return self.gone(link)
        if not self.may_read(link):
            return render(request, "desk/link_cover.html", {"page": signing_page(link)})
        return self.shown(link, token)

    def post(self, request: HttpRequest, token: str) -> HttpResponse:
        at, link = timezone.now(), link_of(token)
        if link is None or standing_of(link, at=at) not in OPENS:
            return redirect("desk:sign-by-link", token)  # which says why it opens nothing
        form = SignByLinkForm(request.POST, words=signing_page(link)["words"])
        try:
            match request.POST.get("answer"):
                case "open":
                    return self.opened(link, token)
                case SigningLink.Ended.DENIED:
                    deny_link(link=link, actor=None, at=at)
                    return redirect("desk:sign-by-link", token)
            if form.is_valid():
                typed = form.cleaned_data
                sign_by_link(link=link, token=token, seen=typed["seen"], signer=typed["signer"], actor=None, at=at)
                return redirect("desk:sign-by-link", token)
        except AgreementRefusedError:
            link = link_of(token) or link
            if standing_of(link, at=at) not in OPENS:  # somebody else was faster
                return redirect("desk:sign-by-link", token)
            form.add_error(None, signing_page(link)["words"]["link_changed"])
        return self.shown(link, token, form, status=422)

    def may_read(self, link: SigningLink) -> bool:
        """Whether this browser opened the link within the hour."""
        return bool(self.request.get_signed_cookie(cookie_of(link), default="", salt=COOKIE, max_age=AN_HOUR))

    def opened(self, link: SigningLink, token: str) -> HttpResponse:
        try:
            open_link(link=link, actor=None, at=timezone.now())
        except OpenedTooOftenError:
            return self.paused(link)
        response = redirect("desk:sign-by-link", token)
        response.set_signed_cookie(
            cookie_of(link), "1", salt=COOKIE, max_age=AN_HOUR, path="/S/", secure=settings.SESSION_COOKIE_SECURE,
            httponly=True, samesite="Lax",
        )  # fmt: skip
        return response

    def shown(
        self, link: SigningLink, token: str, form: SignByLinkForm | None = None, *, status: int = 200
    ) -> HttpResponse:
        page, text = signing_page(link), agreement_text(link, token=token)
        form = form or SignByLinkForm(words=page["words"])
        context = {"page": page, "form": form, "text": as_html(text), "seen": hashlib.sha256(text).hexdigest()}
        return render(self.request, "desk/sign_by_link.html", context, status=status)

    def signed(self, link: SigningLink) -> HttpResponse:
        """Show for a while what was signed, to be saved or printed, in the browser that opened it."""
        text = as_html(content_of(link.loan.agreement.scan))
        return render(self.request, "desk/link_signed.html", {"page": signed_page(link), "text": text})

    def gone(self, link: SigningLink | None) -> HttpResponse:
        """Say why a link opens nothing; of one that never was, in both languages, that it is not complete."""
        if link is None:
            pages = [{"language": code, "words": words_in(code)} for code in LANGUAGES]
            return render(self.request, "desk/link_unknown.html", {"pages": pages}, status=404)
        standing = standing_of(link, at=timezone.now())
        is_shown = standing is Standing.SIGNED and self.may_read(link) and is_just_signed(link, at=timezone.now())
        if is_shown and link.loan.agreement.scan:
            return self.signed(link)
        return render(self.request, "desk/link_gone.html", {"page": gone_page(link, standing)}, status=410)

    def paused(self, link: SigningLink) -> HttpResponse:
        response = render(self.request, "desk/link_gone.html", {"page": paused_page(link)}, status=429)
        response["Retry-After"] = str(AN_HOUR)
        return response


def cookie_of(link: SigningLink) -> str:
    return f"link-{link.pk}"


def as_html(text: bytes) -> SafeString:
    """Mark what our own template made, and escaped, as fit for a page."""
    return mark_safe(text.decode("ascii"))  # noqa: S308
