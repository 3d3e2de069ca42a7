// What this device keeps for the person at it: half-filled forms, and what log-out does about all that waits.
import { startForms } from "./kept-forms.js";
import { startLogOut } from "./log-out.js";

startForms();
startLogOut();
