from django.apps import AppConfig


class DeskConfig(AppConfig):
    name = "desk"
    verbose_name = "Desk"

    def ready(self) -> None:
        from core.access import register
        from core.queue import register_sweep
        from desk.access import PERMISSIONS
        from desk.selectors.waiting import short_of_instruments
        from desk.tasks import queue_recompute
        from inventory.services.figures import recompute
        from repairs.selectors.demand import who_waits

        register(PERMISSIONS)
        who_waits.set(short_of_instruments)
        recompute.set(queue_recompute)
        register_sweep("desk.tasks.queue_due_recompute")
