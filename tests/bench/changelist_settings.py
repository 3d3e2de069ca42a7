"""The application's own settings with Django's admin beside it, for one comparison: the register and a stock changelist."""

from config import settings as own

globals().update({name: getattr(own, name) for name in dir(own) if name.isupper()})
INSTALLED_APPS = [*own.INSTALLED_APPS, "django.contrib.admin"]
ROOT_URLCONF = "tests.bench.changelist_urls"
SILENCED_SYSTEM_CHECKS = ["admin.E403", "admin.E404", "admin.E408", "admin.E409", "admin.E410"]
