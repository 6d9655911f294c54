// Comforts only: every page does its work without this file.
"use strict";

const KEPT = "alloyref-unit";

function rememberUnit() {
  const radios = document.querySelectorAll('input[name="shown-unit"]');
  let kept = null;
  try { kept = localStorage.getItem(KEPT); } catch { /* storage may be closed to us */ }
  for (const radio of radios) {
    if (radio.value === kept) radio.checked = true;
    radio.addEventListener("change", () => {
      try { localStorage.setItem(KEPT, radio.value); } catch { /* then it is not kept */ }
    });
  }
}

// A new row without asking the service: the last row, emptied and counted on.
function addRows() {
  for (const rows of document.querySelectorAll(".rows")) {
    const button = rows.nextElementSibling;
    button.addEventListener("click", (event) => {
      const last = rows.lastElementChild;
      const number = rows.children.length;
      const path = rows.dataset.rows;
      const next = last.cloneNode(true);
      const from = `${path}/${number - 1}/`;
      const to = `${path}/${number}/`;
      const dashed = (text) => text.replaceAll("/", "-");
      for (const element of next.querySelectorAll("*")) {
        for (const name of ["name", "id", "for", "aria-describedby"]) {
          const held = element.getAttribute(name);
          if (held) element.setAttribute(name, held.replace(from, to).replace(dashed(from), dashed(to)));
        }
        if ("value" in element && element.matches("input, select")) element.value = "";
      }
      const legend = next.querySelector("legend");
      legend.textContent = legend.textContent.replace(/\d+$/, String(number + 1));
      rows.append(next);
      next.querySelector("input, select").focus();
      event.preventDefault();
    });
  }
}

function printButton() {
  const sheet = document.querySelector(".sheet > header");
  if (!sheet) return;
  const button = document.createElement("button");
  button.type = "button";
  button.className = "plain noprint";
  button.textContent = "Print this sheet";
  button.addEventListener("click", () => window.print());
  sheet.append(button);
}

rememberUnit();
addRows();
printButton();
