"""Whether the service is well, for whoever watches it."""

from __future__ import annotations

from django.contrib.auth.decorators import login_not_required
from django.db import Error, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.views.decorators.cache import never_cache


@login_not_required
@never_cache
def health(request: HttpRequest) -> HttpResponse:
    """Return 200 if the database answers and every migration is applied, otherwise 503 with the reason."""
    try:
        executor = MigrationExecutor(connection)
        waiting = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except Error:
        return JsonResponse({"status": "database does not answer"}, status=503)
    if waiting:
        return JsonResponse({"status": "migrations waiting"}, status=503)
    return JsonResponse({"status": "ok"})
