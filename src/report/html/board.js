// Shows what is known of a slot beside the map, for pointers, fingers and keys alike. Without it the links in the
// map lead to the same facts in the table below.
//
// A slot that is pointed at or has the focus is shown while that lasts; one that is clicked or tapped stays until it
// is closed or another one is clicked.
"use strict";
(() => {
  const panel = document.getElementById("panel");
  if (!panel) return;
  // Time for a pointer to reach the panel before it goes.
  const PATIENCE = 300;
  let current = null;
  let pinned = false;
  let going = 0;

  const plain = (node) => {
    const copy = node.cloneNode(true);
    if (copy.nodeType !== Node.ELEMENT_NODE) return copy;
    for (const part of [copy, ...copy.querySelectorAll("[id]")]) part.removeAttribute("id");
    return copy;
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

  const unmark = () => {
    current?.removeAttribute("aria-current");
    current = null;
  };
  // The panel stands in the half of the window where the slot is not (WCAG 2.2, 2.4.11). The browser may still be
  // scrolling the slot into view.
  const place = () => requestAnimationFrame(() => {
    if (!current) return;
    const box = current.getBoundingClientRect();
    panel.classList.toggle("above", (box.top + box.bottom) / 2 > innerHeight / 2);
  });
  const show = (link) => {
    clearTimeout(going);
    if (current === link) return;
    unmark();
    current = link;
    link.setAttribute("aria-current", "true");
    const row = document.querySelector(link.getAttribute("href"));
    const close = document.createElement("button");
    close.type = "button";
    close.textContent = "Close";
    close.addEventListener("click", leave);
    panel.replaceChildren(close, ...(row.localName === "tbody" ? changes(row) : facts(row)));
    panel.hidden = false;
    panel.scrollTop = 0;
    place();
  };
  const hide = () => {
    clearTimeout(going);
    unmark();
    pinned = false;
    panel.hidden = true;
  };
  // Hides it, and gives the focus back where it came from.
  const leave = () => {
    if (panel.contains(document.activeElement)) current?.focus({ preventScroll: true });
    hide();
  };
  // Hides it soon, unless something keeps it.
  const release = () => {
    clearTimeout(going);
    going = setTimeout(() => {
      const focus = document.activeElement;
      if (!pinned && !panel.matches(":hover") && focus !== current && !panel.contains(focus)) hide();
    }, PATIENCE);
  };

  for (const link of document.querySelectorAll("a.slot")) {
    link.addEventListener("pointerenter", (event) => event.pointerType === "mouse" && !pinned && show(link));
    link.addEventListener("pointerleave", release);
    link.addEventListener("focus", () => {
      // The focus that comes back from the panel is no new choice.
      if (current !== link) pinned = false;
      show(link);
    });
    link.addEventListener("blur", release);
    link.addEventListener("click", (event) => {
      event.preventDefault();
      show(link);
      pinned = true;
      panel.focus({ preventScroll: true });
    });
  }
  panel.addEventListener("pointerleave", release);
  panel.addEventListener("focusout", release);
  // A link in it leads to a place that it might cover.
  panel.addEventListener("click", (event) => event.target.closest("a") && hide());
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !panel.hidden) leave();
  });
})();
