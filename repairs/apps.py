from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs"

    def ready(self) -> None:
        from core.access import register
        from repairs.access import PERMISSIONS

        register(PERMISSIONS)
