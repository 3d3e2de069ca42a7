// What every page of the staff loads.
import "./app.js";
import "./device.js";
import "./keys.js";
