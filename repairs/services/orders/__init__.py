"""An order at an outside shop: asked, sent, back, and what it costs."""

from repairs.services.orders.approving import approve_order, order_work, refuse_order
from repairs.services.orders.asking import ask_shop, ask_together, call_off
from repairs.services.orders.money import note_estimate, note_invoice
from repairs.services.orders.returning import bring_back, tie_play_test, tie_to_order
from repairs.services.orders.sending import change_promise, send_to_shop, send_together
from repairs.services.orders.undoing import take_back
from repairs.services.orders.warranty import return_on_warranty
