"""A changelist as Django gives it, with the register's columns, rows, filters and search."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.urls import path

from config import urls
from inventory.models import Instrument


class StockSite(admin.AdminSite):
    def has_permission(self, request: Any) -> bool:
        return bool(request.user.is_active)


class InstrumentAdmin(admin.ModelAdmin):  # type: ignore[type-arg]
    list_display = (
        "asset_number", "kind_name", "made_by", "serial", "school", "room", "whereabouts", "verdict", "readiness",
    )  # fmt: skip
    list_filter = ("kind_code", "school", "whereabouts", "verdict", "readiness")
    search_fields = ("asset_number", "serial", "maker", "model", "room__name", "kind_code")
    list_select_related = ("school", "room")
    list_per_page = 50

    def has_view_permission(self, request: Any, obj: Any = None) -> bool:
        return True

    def has_module_permission(self, request: Any) -> bool:
        return True

    def has_add_permission(self, request: Any) -> bool:
        return False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    @admin.display(ordering="kind_code")
    def kind_name(self, row: Instrument) -> str:
        return row.kind.name

    @admin.display(ordering="maker")
    def made_by(self, row: Instrument) -> str:
        return f"{row.maker} {row.model}"


site = StockSite()
site.register(Instrument, InstrumentAdmin)
handler400, handler403, handler404, handler500 = urls.handler400, urls.handler403, urls.handler404, urls.handler500
urlpatterns = [path("stock/", site.urls), *urls.urlpatterns]
