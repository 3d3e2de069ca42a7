"""Log-in and log-out."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import LoginView, LogoutView
from django.utils.decorators import method_decorator
from django.views.decorators.cache import never_cache

from core.forms import LogInForm


@method_decorator([login_not_required, never_cache], name="dispatch")
class LogInView(LoginView):
    template_name = "core/log_in.html"
    authentication_form = LogInForm
    redirect_authenticated_user = True


class LogOutView(LogoutView):
    http_method_names = ["post", "options"]
