from django.contrib.auth.decorators import login_not_required
from django.urls import path
from django.views.i18n import set_language

from core import views

app_name = "core"
urlpatterns = [
    path("log-in/", views.LogInView.as_view(), name="log-in"),
    path("log-out/", views.LogOutView.as_view(), name="log-out"),
    path("log-in/forgotten/", views.ForgottenView.as_view(), name="forgotten"),
    path("log-in/link/<str:token>/", views.LinkView.as_view(), name="link"),
    path("log-in/second-step/", views.SecondStepView.as_view(), name="second-step"),
    path("log-in/sign-on/", views.SignOnView.as_view(), name="sign-on"),
    path("me/", views.MeView.as_view(), name="me"),
    path("me/password/", views.PasswordView.as_view(), name="password"),
    path("me/confirm/", views.ConfirmView.as_view(), name="confirm"),
    path("me/codes/", views.AddCodesView.as_view(), name="add-codes"),
    path("me/passkey/", views.AddPasskeyView.as_view(), name="add-passkey"),
    path("me/second-step/<int:pk>/remove/", views.RemoveStepView.as_view(), name="remove-step"),
    path("me/recovery-codes/", views.RecoveryCodesView.as_view(), name="recovery-codes"),
    path("me/sign-on/", views.LinkSignOnView.as_view(), name="link-sign-on"),
    path("me/sign-on/remove/", views.UnlinkSignOnView.as_view(), name="unlink-sign-on"),
    path("progress/", views.WorkView.as_view(), name="work"),
    path("progress/line/", views.WorkLineView.as_view(), name="work-line"),
    path("progress/<int:pk>/", views.WorkView.as_view(), name="work-one"),
    path("progress/<int:pk>/file/", views.WorkFileView.as_view(), name="work-file"),
    path("progress/<int:pk>/again/", views.WorkAgainView.as_view(), name="work-again"),
    path("service-worker.js", views.service_worker, name="service-worker"),
    path("manifest.webmanifest", views.manifest, name="manifest"),
    path("no-signal/", views.no_signal, name="no-signal"),
    path("language/", login_not_required(set_language), name="language"),
    path("favicon.ico", views.favicon, name="favicon"),
    path("healthz", views.health, name="health"),
]
