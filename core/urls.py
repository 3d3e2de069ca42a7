from django.urls import path

from core import views

app_name = "core"
urlpatterns = [
    path("log-in/", views.LogInView.as_view(), name="log-in"),
    path("log-out/", views.LogOutView.as_view(), name="log-out"),
    path("favicon.ico", views.favicon, name="favicon"),
    path("healthz", views.health, name="health"),
]
