from django.urls import URLPattern, URLResolver

app_name = "repairs"
urlpatterns: list[URLPattern | URLResolver] = []
