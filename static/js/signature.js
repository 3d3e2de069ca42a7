// A box to sign in with finger, pen or mouse. Each canvas names the hidden input that gets the picture (data-for);
// what stands in the input already, after a refused form, is drawn again.
import { say } from "./words.js";

const INK = "#1d1b18";
const SCALE = Math.min(window.devicePixelRatio || 1, 2);

const signaturePad = (canvas) => {
  const input = document.getElementById(canvas.dataset.for);
  const pen = canvas.getContext("2d");
  let last = null;

  const prepare = () => {
    const { width, height } = canvas.getBoundingClientRect();
    if (!width) return false;
    canvas.width = Math.round(width * SCALE);
    canvas.height = Math.round(height * SCALE);
    pen.scale(SCALE, SCALE);
    pen.lineWidth = 2.4;
    pen.lineCap = "round";
    pen.lineJoin = "round";
    pen.strokeStyle = INK;
    pen.fillStyle = INK;
    canvas.dataset.ready = "1";
    if (input.value) {
      const picture = new Image();
      picture.addEventListener("load", () => {
        const share = Math.min(width / picture.width, height / picture.height);
        pen.drawImage(picture, 0, 0, picture.width * share, picture.height * share);
      });
      picture.src = input.value;
    }
    return true;
  };

  const place = (event) => {
    const box = canvas.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };

  const keep = () => {
    if (!last) return;
    last = null;
    input.value = canvas.toDataURL("image/png");
    canvas.dispatchEvent(new CustomEvent("signed", { bubbles: true }));
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (!canvas.dataset.ready && !prepare()) return;
    event.preventDefault();
    canvas.setPointerCapture(event.pointerId);
    last = place(event);
    pen.beginPath();
    pen.arc(last.x, last.y, 1.2, 0, 2 * Math.PI);
    pen.fill();
  });
  canvas.addEventListener("pointermove", (event) => {
    if (!last) return;
    for (const point of event.getCoalescedEvents?.() ?? [event]) {
      const next = place(point);
      pen.beginPath();
      pen.moveTo(last.x, last.y);
      pen.lineTo(next.x, next.y);
      pen.stroke();
      last = next;
    }
  });
  canvas.addEventListener("pointerup", keep);
  canvas.addEventListener("pointercancel", keep);

  document.querySelector(`[data-clear="${canvas.dataset.for}"]`)?.addEventListener("click", () => {
    input.value = "";
    input.dispatchEvent(new Event("change", { bubbles: true }));
    pen.clearRect(0, 0, canvas.width, canvas.height);
    window.hornbook?.announce(say("cleared"));
  });

  canvas.closest("form")?.addEventListener("filled-in", prepare);

  // A box that is not shown yet has no size: it is prepared when it appears. Turning the phone keeps what is drawn.
  new ResizeObserver(prepare).observe(canvas);
};

document.querySelectorAll("canvas[data-for]").forEach(signaturePad);
