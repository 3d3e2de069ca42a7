from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Instruments"

    def ready(self) -> None:
        from core.access import register, register_reach, register_roles, register_second_step
        from core.free_text import register as register_free_text
        from core.passwords import register_names
        from core.revisions import keep
        from core.scopes import register as register_scope
        from core.traces import register as register_traces
        from inventory.access import PERMISSIONS, asks_second_step, roles_of
        from inventory.free_text import FREE_TEXT
        from inventory.kept import KEPT
        from inventory.models.places import school_keys
        from inventory.selectors.figures import enter
        from inventory.selectors.setup import place_names
        from inventory.traces import TRACES

        register(PERMISSIONS)
        register_roles(roles_of)
        register_reach(school_keys)
        register_second_step(asks_second_step)
        register_free_text(FREE_TEXT)
        keep(KEPT)
        register_traces(TRACES)
        register_names(place_names)
        register_scope(enter)
