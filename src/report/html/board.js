// Shows what is known of a slot beside the map, for pointers, fingers and keys alike. Without it the links in the
// map lead to the same facts in the table below.
"use strict";
(() => {
  const panel = document.getElementById("panel");
  if (!panel) return;
  const plain = (node) => {
    const copy = node.cloneNode(true);
    if (copy.nodeType !== Node.ELEMENT_NODE) return copy;
    for (const part of [copy, ...copy.querySelectorAll("[id]")]) part.removeAttribute("id");
    return copy;
  };
  let current = null;
  const show = (link) => {
    if (current === link) return;
    current?.removeAttribute("aria-current");
    current = link;
    link.setAttribute("aria-current", "true");
    const row = document.querySelector(link.getAttribute("href"));
    const close = document.createElement("button");
    close.type = "button";
    close.textContent = "Close";
    close.addEventListener("click", leave);
    panel.replaceChildren(close, ...(row.localName === "tbody" ? changes(row) : facts(row)));
    panel.hidden = false;
  };
  // What differs in a slot: its part of the table of changes.
  const changes = (part) => {
    const whole = part.closest("table");
    const table = whole.cloneNode(false);
    table.append(plain(whole.tHead), plain(part));
    return [table];
  };
  // A slot's row as keys and values, and the findings that it leads to.
  const facts = (row) => {
    const list = document.createElement("dl");
    list.className = "pair";
    const heads = row.closest("table").querySelectorAll("thead th");
    [...row.cells].forEach((cell, at) => {
      if (at === 0 || !cell.textContent.trim()) return;
      const key = document.createElement("dt");
      key.textContent = heads[at].textContent;
      const value = document.createElement("dd");
      value.append(...[...cell.childNodes].map(plain));
      list.append(key, value);
    });
    const title = document.createElement("h3");
    title.textContent = row.cells[0].textContent;
    const findings = [...row.querySelectorAll("a[data-finding]")].map((to) => document.querySelector(to.getAttribute("href")));
    return [title, list, ...findings.filter(Boolean).map(plain)];
  };
  const leave = () => {
    current?.focus({ preventScroll: true });
    current?.removeAttribute("aria-current");
    panel.hidden = true;
    current = null;
  };
  const links = [...document.querySelectorAll("a.slot")];
  for (const link of links) {
    link.addEventListener("pointerenter", (event) => event.pointerType === "mouse" && show(link));
    link.addEventListener("focus", () => show(link));
    link.addEventListener("click", (event) => {
      event.preventDefault();
      show(link);
      panel.focus({ preventScroll: true });
      panel.scrollTop = 0;
    });
  }
  panel.addEventListener("keydown", (event) => {
    if (event.key === "Escape") leave();
  });
})();
