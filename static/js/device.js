// What this device keeps for the person at it: half-filled forms, pages for when there is no signal, and what log-out does
// about all that waits.
import { startForms } from "./kept-forms.js";
import { startLogOut } from "./log-out.js";
import { startOffline } from "./offline.js";
import { startSending } from "./sending.js";

startForms().then(startSending).catch(() => {});
startLogOut();
startOffline().catch(() => {}); // a browser that installs nothing goes on without
