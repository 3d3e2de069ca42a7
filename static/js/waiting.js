// Pages without a log-in: say that something waits on this device, not what and not whose; the log-in page locks it.
import { lock, waiting } from "./device-store.js";

const left = await waiting().catch(() => 0);
document.querySelectorAll("[data-something-waits]").forEach((one) => {
  one.hidden = !left;
  if (one.hasAttribute("data-lock")) lock().catch(() => {});
});
