from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "desk"
    verbose_name = "Desk"

    def ready(self) -> None:
        from core.access import register
        from desk.access import PERMISSIONS

        register(PERMISSIONS)
