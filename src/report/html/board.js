// Shows what is known of a slot beside the map, for pointers, fingers and keys alike. Without it the links in the
// map lead to the same facts in the table below.
"use strict";
(() => {
  const panel = document.getElementById("panel");
  if (!panel) return;
  const plain = (node) => {
    const copy = node.cloneNode(true);
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
    const facts = document.createElement("dl");
    facts.className = "pair";
    const heads = row.closest("table").querySelectorAll("thead th");
    [...row.cells].forEach((cell, at) => {
      if (at === 0 || !cell.textContent.trim()) return;
      const key = document.createElement("dt");
      key.textContent = heads[at].textContent;
      const value = document.createElement("dd");
      for (const child of cell.childNodes) value.append(plain_or_text(child));
      facts.append(key, value);
    });
    const title = document.createElement("h3");
    title.textContent = row.cells[0].textContent;
    const close = document.createElement("button");
    close.type = "button";
    close.textContent = "Close";
    close.addEventListener("click", leave);
    panel.replaceChildren(close, title, facts);
    for (const to of row.querySelectorAll("a[data-finding]")) {
      const finding = document.querySelector(to.getAttribute("href"));
      if (finding) panel.append(plain(finding));
    }
    panel.hidden = false;
  };
  const leave = () => {
    current?.focus({ preventScroll: true });
    current?.removeAttribute("aria-current");
    panel.hidden = true;
    current = null;
  };
  const plain_or_text = (node) => (node.nodeType === Node.ELEMENT_NODE ? plain(node) : node.cloneNode());
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
