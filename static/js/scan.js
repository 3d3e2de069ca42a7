// The scan page's camera: the browser's own barcode reader where it has one, else the reader installed with the app.
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
    line.requestSubmit();
  };

  const go = (text) => {
    const address = new URL(section.dataset.find, location.origin);
    address.searchParams.set("text", text);
    if (section.dataset.then) address.searchParams.set("then", section.dataset.then);
    location.assign(address);
  };

  const reader = async () => {
    if ("BarcodeDetector" in window && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
      const own = new BarcodeDetector({ formats: ["qr_code"] });
      return async () => (await own.detect(video))[0]?.rawValue;
    }
    const { default: decode } = await import(new URL("../vendor/qr/decode.js", import.meta.url));
    const canvas = document.createElement("canvas");
    const pen = canvas.getContext("2d", { willReadFrequently: true });
    return async () => {
      const scale = Math.min(1, 640 / video.videoWidth);
      canvas.width = video.videoWidth * scale;
      canvas.height = video.videoHeight * scale;
      pen.drawImage(video, 0, 0, canvas.width, canvas.height);
      const picture = pen.getImageData(0, 0, canvas.width, canvas.height);
      try {
        return await decode({ data: picture.data, width: picture.width, height: picture.height });
      } catch {
        return undefined; // no code in this frame
      }
    };
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
    const look = await reader();
    const timer = setInterval(async () => {
      const text = video.videoWidth ? await look() : undefined;
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
