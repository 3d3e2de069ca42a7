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
  const MOST_FAILED = 5; // looks in a row: one alone may be a frame that was not there yet
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
    let stream, look;
    const stop = () => stream?.getTracks().forEach((track) => track.stop());
    const end = (words) => {
      stop();
      says.textContent = words;
      video.parentElement.classList.remove("is-on");
      bar.hidden = false;
    };
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      video.srcObject = stream;
      await video.play();
    } catch {
      end(say("refused"));
      return;
    }
    says.textContent = say("hold-it");
    try {
      look = await labelReader();
    } catch {
      end(say("no-reader"));
      return;
    }
    let isLooking = false, failed = 0;
    const timer = setInterval(async () => {
      if (isLooking || !video.videoWidth) return;
      isLooking = true;
      let text;
      try {
        text = await look(video);
        failed = 0;
      } catch {
        failed += 1;
        if (failed === MOST_FAILED) {
          clearInterval(timer);
          end(say("no-reader"));
        }
      } finally {
        isLooking = false;
      }
      if (!text) return;
      if (line) { hand(text); return; }
      clearInterval(timer);
      stop();
      says.textContent = say("found");
      go(text);
    }, 180);
    addEventListener("pagehide", stop);
  };
  start.addEventListener("click", begin);

  // Whoever has let this page use the camera before need not ask for it again.
  navigator.permissions?.query({ name: "camera" }).then((held) => {
    if (held.state === "granted" && window.isSecureContext && matchMedia("(pointer: coarse)").matches) begin();
  }).catch(() => {}); // a browser that does not know this permission
}
