from django.apps import AppConfig


class InventoryConfig(AppConfig):
    name = "inventory"
    verbose_name = "Instruments"

    def ready(self) -> None:
        from core.access import register, register_roles
        from core.free_text import register as register_free_text
        from core.passwords import register_names
        from inventory.access import PERMISSIONS, roles_of
        from inventory.free_text import FREE_TEXT
        from inventory.selectors.setup import place_names

        register(PERMISSIONS)
        register_roles(roles_of)
        register_free_text(FREE_TEXT)
        register_names(place_names)
