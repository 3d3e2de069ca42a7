from django.urls import path

from core import views

app_name = "core"
urlpatterns = [
    path("log-in/", views.LogInView.as_view(), name="log-in"),
    path("log-out/", views.LogOutView.as_view(), name="log-out"),
    path("log-in/forgotten/", views.ForgottenView.as_view(), name="forgotten"),
    path("log-in/link/<str:token>/", views.LinkView.as_view(), name="link"),
    path("me/", views.MeView.as_view(), name="me"),
    path("me/password/", views.PasswordView.as_view(), name="password"),
    path("me/confirm/", views.ConfirmView.as_view(), name="confirm"),
    path("favicon.ico", views.favicon, name="favicon"),
    path("healthz", views.health, name="health"),
]
