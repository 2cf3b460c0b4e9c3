// Small comforts. Every page works without them: forms are plain forms.
"use strict";

// A second press of the same button is ignored; the server would ignore it too.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) { event.preventDefault(); return; }
  const here = ["localhost", "127.0.0.1", "[::1]"].includes(location.hostname);
  if (!navigator.onLine && !here) {
    event.preventDefault();
    say("No network. Nothing was sent and nothing is lost: press again when it is back.");
    return;
  }
  if (form.method === "post") { form.dataset.sent = "1"; }
});
// Coming back with the browser's own button: the form may be sent again.
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
});

function say(text) {
  const place = document.getElementById("said");
  if (!place) { return; }
  place.textContent = text;
  place.className = "note bad";
}

// A scanner types. Wherever the focus is, what it types lands in the scan field,
// and the group separator (Ctrl+]), which browsers swallow, is put in.
const scan = document.querySelector("input[data-scan]");
if (scan) {
  scan.focus();
  document.addEventListener("keydown", (event) => {
    const typing = ["INPUT", "SELECT", "TEXTAREA", "BUTTON", "SUMMARY", "A"].includes(document.activeElement.tagName);
    if (event.key === "]" && event.ctrlKey) {
      event.preventDefault();
      scan.setRangeText("\u001d", scan.selectionStart, scan.selectionEnd, "end");
    } else if (!typing && event.key.length === 1 && !event.ctrlKey && !event.metaKey && !event.altKey) {
      scan.focus();
    }
  });
}

// A file dropped anywhere on the frame is the file chosen.
document.querySelectorAll(".drop").forEach((frame) => {
  const input = frame.querySelector("input[type=file]");
  frame.addEventListener("dragover", (event) => { event.preventDefault(); frame.classList.add("over"); });
  frame.addEventListener("dragleave", () => frame.classList.remove("over"));
  frame.addEventListener("drop", (event) => {
    event.preventDefault();
    frame.classList.remove("over");
    if (event.dataTransfer.files.length) {
      input.files = event.dataTransfer.files;
      input.form.requestSubmit();
    }
  });
});

document.querySelectorAll("[data-print]").forEach((button) => {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
});
