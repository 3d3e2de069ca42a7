"""Log-in and log-out."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.views import LoginView, LogoutView
from django.contrib.messages import get_messages
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from core.forms import LogInForm
from core.sign_on import offered_name
from core.views.base import public
from core.views.entering import enter


@public
class LogInView(LoginView):
    template_name = "core/log_in.html"
    authentication_form = LogInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | {"sign_on_name": offered_name()}

    def get_form_kwargs(self) -> dict[str, Any]:
        return super().get_form_kwargs() | {"at": timezone.now()}

    def form_valid(self, form: AuthenticationForm) -> HttpResponse:
        return enter(self.request, form.get_user(), onward=self.get_success_url())


class LogOutView(LogoutView):
    """Ends the session, and lets the browser throw away what it has cached: pages to step back to, photos.

    The page has destroyed what its person kept on the device (static/js/log-out.js). It asks for ``clear`` if nobody
    else's things wait there: then all storage of this address goes.
    """

    http_method_names = ["post"]

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        list(get_messages(request))  # what the last act said is not for whoever logs in next
        is_alone = bool(request.POST.get("clear"))
        response = super().post(request, *args, **kwargs)
        response.headers["Clear-Site-Data"] = '"cache", "storage"' if is_alone else '"cache"'
        return response
