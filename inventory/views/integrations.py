"""Tokens by which other programs of the district read; the API itself is in desk/views/api.py."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from core.responses import home_url
from core.views import FormView, keep_to_show, row_or_404, show_once
from inventory.forms.setup import IntegrationForm
from inventory.models import Integration
from inventory.services.integrations import MANAGE, make_integration, maker_may, revoke_integration

SHOWN = "integration_token"
USUAL = timedelta(days=365)


class IntegrationsView(FormView):
    """Make a token, see which there are; the token itself is shown once."""

    permission_required = MANAGE
    template_name = "inventory/integrations.html"

    def form(self, row: None, data: Any = None) -> IntegrationForm:
        return IntegrationForm(data, initial={"expires_on": timezone.localdate() + USUAL})

    def context(self, row: None, form: forms.BaseForm) -> dict[str, Any]:
        live = Integration.objects.live(today=timezone.localdate()).select_related("school", "made_by")
        return {
            "token": show_once(self.request, SHOWN) if self.request.method == "GET" else None,
            "description": f"{home_url(self.request)}{reverse('api:openapi-json')}",
            "integrations": [(one, maker_may(one)) for one in live],
        }

    def save(self, row: None, form: IntegrationForm) -> str:
        token = make_integration(**form.cleaned_data, **self.actor_and_time())
        keep_to_show(self.request, SHOWN, token)
        return reverse("inventory:integrations")


class RevokeIntegrationView(FormView):
    permission_required = MANAGE
    http_method_names = ["post"]

    def row(self, **lookup: Any) -> Integration:
        return row_or_404(Integration.objects.all(), **lookup)

    def save(self, row: Integration, form: forms.BaseForm) -> str:
        revoke_integration(integration=row, **self.actor_and_time())
        return self.done(
            gettext("%(name)s can no longer read anything.") % {"name": row.name}, "inventory:integrations"
        )
