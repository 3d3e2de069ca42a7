from __future__ import annotations

from tests.permission_matrix import Row

ROWS: dict[str, Row] = {}
