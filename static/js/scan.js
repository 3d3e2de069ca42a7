// The camera of pages that take scans.
import { labelReader } from "./reader.js";
import { say } from "./words.js";

const section = document.querySelector("[data-scan]");

if (section && navigator.mediaDevices?.getUserMedia) {
  const video = section.querySelector("video");
  const says = section.querySelector("[data-scan-says]");
  const bar = document.querySelector("[data-scan-bar]");
  const start = bar.querySelector("[data-scan-start]");
  section.hidden = false;
  bar.hidden = !window.isSecureContext;
  says.textContent = window.isSecureContext ? "" : say("no-https");

  // Beside a line of scans the camera goes on: a tag still in the picture is not read again.
  const line = document.querySelector("[data-scan-line]");
  const AGAIN_MS = 4000;
  let lately = { text: "", at: 0 };
  const hand = (text) => {
    const now = Date.now();
    const isAgain = text === lately.text && now - lately.at < AGAIN_MS;
    lately = { text, at: now };
    if (isAgain) return;
    line.elements.text.value = text;
    if (line.elements.scanned) line.elements.scanned.value = "1";
    line.requestSubmit();
  };

  const go = (text) => {
    const address = new URL(section.dataset.find, location.origin);
    address.searchParams.set("text", text);
    if (section.dataset.then) address.searchParams.set("then", section.dataset.then);
    location.assign(address);
  };

  const begin = async () => {
    bar.hidden = true;
    video.parentElement.classList.add("is-on");
    says.textContent = say("asking");
    let stream;
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      says.textContent = say("refused");
      video.parentElement.classList.remove("is-on");
      bar.hidden = false;
      return;
    }
    video.srcObject = stream;
    await video.play();
    says.textContent = say("hold-it");
    const look = await labelReader();
    let isLooking = false;
    const timer = setInterval(async () => {
      if (isLooking || !video.videoWidth) return;
      isLooking = true;
      const text = await look(video).finally(() => { isLooking = false; });
      if (!text) return;
      if (line) { hand(text); return; }
      clearInterval(timer);
      stream.getTracks().forEach((track) => track.stop());
      says.textContent = say("found");
      go(text);
    }, 180);
    addEventListener("pagehide", () => stream.getTracks().forEach((track) => track.stop()));
  };
  start.addEventListener("click", begin);

  // Whoever has let this page use the camera before need not ask for it again.
  navigator.permissions?.query({ name: "camera" }).then((held) => {
    if (held.state === "granted" && window.isSecureContext && matchMedia("(pointer: coarse)").matches) begin();
  }).catch(() => {}); // a browser that does not know this permission
}
