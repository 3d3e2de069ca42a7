// Makes a passkey, or shows one: the options come with the page, the browser's answer goes back in the form.
import { say } from "./words.js";

const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, "+").replace(/_/g, "/")), (one) => one.charCodeAt(0));
const text = (buffer) => btoa(String.fromCharCode(...new Uint8Array(buffer)))
  .replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
const named = (list) => (list ?? []).map((one) => ({ ...one, id: bytes(one.id) }));

/** The options as the browser takes them. */
const readable = (options) => {
  const read = { ...options, challenge: bytes(options.challenge) };
  if (options.user) read.user = { ...options.user, id: bytes(options.user.id) };
  if (options.excludeCredentials) read.excludeCredentials = named(options.excludeCredentials);
  if (options.allowCredentials) read.allowCredentials = named(options.allowCredentials);
  return read;
};

/** The browser's answer as JSON. */
const sendable = (credential) => {
  const { response } = credential;
  const parts = {};
  for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
    if (response[name]) parts[name] = text(response[name]);
  }
  if (response.getTransports) parts.transports = response.getTransports();
  return JSON.stringify({
    id: credential.id,
    rawId: text(credential.rawId),
    type: credential.type,
    authenticatorAttachment: credential.authenticatorAttachment,
    clientExtensionResults: credential.getClientExtensionResults(),
    response: parts,
  });
};

const form = document.querySelector("form[data-passkey]");
const box = document.getElementById("passkey-options");
const trouble = document.getElementById("passkey-trouble");
const button = form?.querySelector("[data-passkey-go]");
if (form && box && button) {
  const options = JSON.parse(box.textContent).publicKey;
  // The page has it disabled: a tap before this script is here would be lost.
  button.disabled = !window.PublicKeyCredential;
  if (button.disabled) trouble.textContent = say("no-passkeys");
  button.addEventListener("click", async () => {
    trouble.textContent = "";
    button.disabled = true;
    try {
      const asked = { publicKey: readable(options) };
      const { credentials } = navigator;
      const credential = await (form.dataset.passkey === "make" ? credentials.create(asked) : credentials.get(asked));
      form.elements.credential.value = sendable(credential);
      form.requestSubmit();
    } catch (error) {
      trouble.textContent = say(error.name === "InvalidStateError" ? "passkey-there" : "passkey-stopped");
    } finally {
      button.disabled = false;
    }
  });
}
