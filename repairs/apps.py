from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs"

    def ready(self) -> None:
        from core.access import register
        from core.free_text import register as register_free_text
        from inventory.services.following import register as register_follower
        from repairs.access import PERMISSIONS
        from repairs.free_text import FREE_TEXT
        from repairs.services.care import care_changed

        register(PERMISSIONS)
        register_free_text(FREE_TEXT)
        register_follower(care_changed)
