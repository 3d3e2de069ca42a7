from django.urls import URLPattern, URLResolver

app_name = "loans"
urlpatterns: list[URLPattern | URLResolver] = []
