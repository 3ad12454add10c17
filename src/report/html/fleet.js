// Tables of a fleet: rows are made when they are looked at, so that ten thousand hosts open as quickly as ten.
"use strict";
(() => {
  const STEP = 100;
  const order = new Intl.Collator("en", { numeric: true });
  const make = (name, text, className) => {
    const node = document.createElement(name);
    if (text !== undefined) node.textContent = text;
    if (className) node.className = className;
    return node;
  };
  const icon = (name) => {
    const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
    const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
    svg.setAttribute("class", "icon");
    svg.setAttribute("aria-hidden", "true");
    use.setAttribute("href", `#mark-${name}`);
    svg.append(use);
    return svg;
  };
  const outcomes = { "as-planned": "good", deviates: "fault", unproven: "unproven", "not-audited": "warning" };
  const decisions = { "may-ship": "good", hold: "fault", "cannot-say": "unproven" };
  const marked = (mark, text) => {
    const cell = make("td", undefined, mark);
    const word = make("span", text, "word");
    word.prepend(icon(mark));
    cell.append(word);
    return cell;
  };
  const memory = (row) => (row.detected === null && row.planned === null ? "" : `${gib(row.detected)} of ${gib(row.planned)} GiB`);
  const gib = (bytes) => (bytes === null ? "?" : String(Math.round((bytes / 2 ** 30) * 100) / 100));
  // How a cell is made, by the key of its column.
  const cells = {
    name: (row, page) => {
      const cell = make("th");
      cell.scope = "row";
      if (page) {
        const link = make("a", row.name);
        link.href = page;
        cell.append(link);
      } else cell.textContent = row.name;
      return cell;
    },
    decision: (row) => marked(decisions[row.decision], row.decision),
    outcome: (row) => marked(outcomes[row.outcome], row.outcome),
    severity: (row) => marked(row.severity, row.severity),
    detected: (row) => make("td", memory(row), "number"),
    summary: (row) => make("td", row.summary, "long"),
    findings: (row) => {
      const cell = make("td", undefined, "long");
      if (row.reason) cell.append(make("p", row.reason));
      if (row.findings?.length) {
        const box = make("details");
        box.append(make("summary", [...new Set(row.kinds)].join(", ")));
        const list = make("ul");
        for (const finding of row.findings) {
          const item = make("li", undefined, finding.severity);
          const word = make("span", `${finding.kind} (${finding.severity}) `, "word");
          word.prepend(icon(finding.severity));
          item.append(word, make("span", finding.summary));
          if (finding.slots) item.append(make("span", ` slots ${finding.slots}`, "quiet"));
          list.append(item);
        }
        box.append(list);
        cell.append(box);
      }
      return cell;
    },
  };
  const GRAVITY = ["fault", "warning", "unproven"];
  const words = (value) => (value === null ? "" : String(value));
  // What can be searched of a row: what its columns show, but for bare numbers.
  const searched = (row, heads) => heads.map((head) => {
    const key = head.dataset.key;
    if (key === "detected") return memory(row);
    if (head.classList.contains("number")) return "";
    if (key !== "findings") return words(row[key]);
    return [row.reason, ...row.findings.flatMap((finding) => [finding.kind, finding.severity, finding.summary, finding.slots])].join(" ");
  }).join(" ").toLowerCase();

  for (const live of document.querySelectorAll(".live")) {
    const source = document.getElementById(live.dataset.rows);
    const rows = JSON.parse(source.textContent);
    const heads = [...live.querySelectorAll("th[data-key]")];
    rows.forEach((row, at) => {
      row.text = searched(row, heads);
      row.at = at;
      row.kinds = row.findings ? row.findings.map((finding) => finding.kind) : [row.kind];
    });
    const body = live.querySelector("tbody");
    const more = live.querySelector(".more");
    const count = live.querySelector("[role=status]");
    const search = live.querySelector("input[type=search]");
    const selects = [...live.querySelectorAll("select")];
    let wanted = rows;
    let made = 0;
    const grow = () => {
      const part = document.createDocumentFragment();
      for (const row of wanted.slice(made, made + STEP)) {
        const line = make("tr");
        const page = live.dataset.pages ? `${live.dataset.pages}/${String(row.at + 1).padStart(6, "0")}.html` : null;
        for (const head of heads) {
          const key = head.dataset.key;
          line.append(cells[key] ? cells[key](row, page) : make("td", words(row[key]), head.className || "short"));
        }
        part.append(line);
      }
      made = Math.min(made + STEP, wanted.length);
      body.append(part);
      more.hidden = made === wanted.length;
    };
    const fill = () => {
      const sought = search.value.toLowerCase().split(/\s+/);
      wanted = rows.filter((row) => sought.every((word) => row.text.includes(word)) && selects.every((select) => {
        if (!select.value) return true;
        return select.dataset.key === "kind" ? row.kinds.includes(select.value) : row[select.dataset.key] === select.value;
      }));
      const sorted = heads.find((head) => head.ariaSort === "ascending" || head.ariaSort === "descending");
      if (sorted) {
        const key = sorted.dataset.key;
        const sign = sorted.ariaSort === "ascending" ? 1 : -1;
        const value = (row) => {
          if (key === "findings") return row.findings.length;
          return key === "severity" ? GRAVITY.indexOf(row.severity) : row[key];
        };
        const compare = (a, b) => typeof a === "number" && typeof b === "number" ? a - b : order.compare(words(a), words(b));
        wanted.sort((a, b) => sign * compare(value(a), value(b)) || a.at - b.at);
      }
      body.replaceChildren();
      made = 0;
      count.textContent = `${wanted.length} of ${rows.length}`;
      live.classList.toggle("narrowed", wanted.length < rows.length);
      grow();
    };
    for (const head of heads) {
      head.querySelector("button")?.addEventListener("click", () => {
        const next = head.ariaSort === "ascending" ? "descending" : "ascending";
        for (const other of heads) other.ariaSort = null;
        head.ariaSort = next;
        fill();
      });
    }
    search.addEventListener("input", fill);
    for (const select of selects) select.addEventListener("change", fill);
    more.addEventListener("click", grow);
    // Paper has no button for more.
    addEventListener("beforeprint", () => { while (made < wanted.length) grow(); });
    new IntersectionObserver((seen) => seen.some((entry) => entry.isIntersecting) && !more.hidden && grow(), { rootMargin: "600px" }).observe(more);
    // Numbers and kinds above the table filter it.
    for (const button of document.querySelectorAll(`button[data-filter][data-for="${live.dataset.rows}"]`)) {
      button.addEventListener("click", () => {
        for (const select of selects) select.value = select.dataset.key === button.dataset.filter ? button.dataset.value : "";
        search.value = "";
        fill();
        live.scrollIntoView();
        // Not the search box, which would bring up a phone's keyboard.
        live.querySelector(".scroll").focus({ preventScroll: true });
      });
    }
    fill();
  }
})();
