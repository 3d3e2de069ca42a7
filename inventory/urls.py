from django.urls import URLPattern, URLResolver

app_name = "inventory"
urlpatterns: list[URLPattern | URLResolver] = []
