from __future__ import annotations

from tests.permission_matrix import inventory_charts, inventory_import, inventory_register, inventory_walk

ROWS = inventory_walk.ROWS | inventory_register.ROWS | inventory_import.ROWS | inventory_charts.ROWS
