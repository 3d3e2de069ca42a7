from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Instruments"

    def ready(self) -> None:
        from core import access, hooks, passwords
        from core.free_text import register as register_free_text
        from core.revisions import keep
        from core.traces import register as register_traces
        from inventory.access import PERMISSIONS, asks_second_step, roles_of
        from inventory.free_text import FREE_TEXT
        from inventory.kept import KEPT
        from inventory.models.places import school_keys
        from inventory.selectors.figures import enter
        from inventory.selectors.setup import place_names
        from inventory.traces import TRACES

        access.register(PERMISSIONS)
        access.roles_of.set(roles_of)
        access.reach_of.set(school_keys)
        access.asks_second_step.set(asks_second_step)
        register_free_text(FREE_TEXT)
        keep(KEPT)
        register_traces(TRACES)
        passwords.place_names.set(place_names)
        hooks.enter_all.set(enter)
