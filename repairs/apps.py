from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs"

    def ready(self) -> None:
        from core.access import register
        from core.free_text import register as register_free_text
        from core.traces import register as register_traces
        from inventory.services.following import instruments_changed, play_tested
        from repairs.access import PERMISSIONS
        from repairs.free_text import FREE_TEXT
        from repairs.services.care import care_changed
        from repairs.services.orders import tie_to_order
        from repairs.traces import TRACES

        register(PERMISSIONS)
        register_free_text(FREE_TEXT)
        register_traces(TRACES)
        instruments_changed.set(care_changed)
        play_tested.set(tie_to_order)
