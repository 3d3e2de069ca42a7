"""WSGI entry."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()


def _load_everything() -> None:
    """Import what answers requests and read the catalog, some seconds of work, before gunicorn forks its workers.

    Otherwise the first visitor of each worker would wait for it, and every worker would keep a copy of its own.
    """
    from django.urls import get_resolver

    from inventory.catalog.charts import charts
    from inventory.catalog.load import catalog

    get_resolver().url_patterns  # noqa: B018  # imports every view
    catalog()
    charts()


_load_everything()
