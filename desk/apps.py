from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "desk"
    verbose_name = "Desk"

    def ready(self) -> None:
        from core.access import register
        from desk.access import PERMISSIONS
        from desk.selectors.waiting import short_of_instruments
        from repairs.selectors.demand import register as register_demand

        register(PERMISSIONS)
        register_demand(short_of_instruments)
