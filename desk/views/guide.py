"""The guide: its list, a page, and all of it on paper. It shows no row of anybody."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext
from django.views import View

from core.views import StaffRequest, pdf_response
from desk.pages.guide import shown_page, whole_guide
from desk.pdf import guide_pdf


class GuideView(View):
    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest) -> HttpResponse:
        return render(request, "desk/guide.html", {"pages": whole_guide()})


class GuidePageView(View):
    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest, code: str) -> HttpResponse:
        try:
            page = shown_page(code)
        except KeyError:
            raise Http404("no such page of the guide") from None
        return render(request, "desk/guide_page.html", {"page": page})


class GuidePdfView(View):
    http_method_names = ["get", "head"]

    def get(self, request: StaffRequest) -> HttpResponse:
        failed = gettext("The PDF could not be made. Read the pages here.")
        back = redirect("desk:guide")
        return pdf_response(request, lambda: guide_pdf(whole_guide()), name="guide.pdf", failed=failed, back=back)
