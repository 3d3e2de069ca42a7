// The first page proposes the time zone that this device is in, where the list has it and nobody has chosen yet.
const zone = document.getElementById("id_time_zone");
const own = Intl.DateTimeFormat().resolvedOptions().timeZone;
if (zone && !document.querySelector(".has-error") && [...zone.options].some((option) => option.value === own)) {
  zone.value = own;
}
