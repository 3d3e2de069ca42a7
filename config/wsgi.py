"""WSGI entry."""

import os

from django.core.wsgi import get_wsgi_application

from config.env import SettingError
from config.sentences import sentence

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()


def _load_everything() -> None:
    """Import what answers requests and read the catalog, some seconds of work, before gunicorn forks its workers.

    Otherwise the first visitor of each worker would wait for it, and every worker would keep a copy of its own.
    """
    from django.urls import get_resolver

    from core.outages import open_only_what_is_there
    from inventory.catalog.charts import charts
    from inventory.catalog.load import CatalogError, catalog

    open_only_what_is_there()
    get_resolver().url_patterns  # noqa: B018  # imports every view
    try:
        catalog()
        charts()
    except CatalogError as error:
        raise SettingError(sentence(error)) from None


_load_everything()
