// Opens every page of a folder in a real browser and looks at what a person would meet.
//
// The test `pages` writes the folder and starts this. Each line says what was checked; the exit code is 1 if
// anything failed.
import { readFileSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { HtmlValidate } from "html-validate";
import { DESKTOP, PHONE, launch } from "./open.mjs";

const folder = process.argv[2];
const url = (name) => pathToFileURL(join(folder, name)).href;
const axeSource = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const AXE = { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"], resultTypes: ["violations"] };
const CONTRAST = { runOnly: { type: "rule", values: ["color-contrast"] }, resultTypes: ["violations"] };

let failed = 0;
const check = (what, ok, detail = "") => {
  if (!ok) failed += 1;
  console.log(`${ok ? "ok    " : "FAILED"} ${what}${ok || detail === "" ? "" : `: ${typeof detail === "string" ? detail : JSON.stringify(detail)}`}`);
};

const browser = await launch();

/** A page with a record of everything that it complains of or asks for. */
const open = async (name, options = {}) => {
  const context = await browser.newContext({ viewport: DESKTOP, ...options });
  const page = await context.newPage();
  const complaints = [];
  page.on("console", (message) => complaints.push(`console ${message.type()}: ${message.text()}`));
  page.on("pageerror", (error) => complaints.push(`error: ${error.message}`));
  page.on("request", (request) => request.url().split("#")[0] === url(name) || complaints.push(`request: ${request.url()}`));
  page.on("dialog", (dialog) => { complaints.push(`dialog: ${dialog.message()}`); dialog.dismiss(); });
  if (options.javaScriptEnabled !== false) {
    await page.addInitScript(() => {
      globalThis.violations = [];
      document.addEventListener("securitypolicyviolation", (event) => globalThis.violations.push(event.violatedDirective));
      globalThis.hostile = () => { globalThis.hostileRan = true; };
    });
  }
  await page.goto(url(name));
  return { context, page, complaints };
};

const axe = async (page, options = AXE) => {
  // Evaluated by the debugger: the page's own policy would refuse another script.
  if (!(await page.evaluate(() => "axe" in globalThis))) await page.evaluate(axeSource);
  const result = await page.evaluate((options) => globalThis.axe.run(document, options), options);
  return result.violations.map((violation) => `${violation.id} at ${violation.nodes.slice(0, 3).map((node) => node.target.join(" ")).join("; ")}`);
};

/** Contrast of the texts and marks in drawings, by the formula of WCAG 2.2, which the checker does not look at. */
const drawingContrast = (page) => page.evaluate(() => {
  const channels = (colour) => colour.match(/[\d.]+/g).slice(0, 3).map(Number);
  const light = (colour) => {
    const [r, g, b] = channels(colour).map((value) => {
      const part = value / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const contrast = (a, b) => {
    const [high, low] = [light(a), light(b)].sort((x, y) => y - x);
    return (high + 0.05) / (low + 0.05);
  };
  const bad = [];
  for (const slot of document.querySelectorAll(".slot")) {
    const ground = getComputedStyle(slot.querySelector(".body")).fill;
    for (const text of slot.querySelectorAll("text")) {
      const ratio = contrast(getComputedStyle(text).fill, ground);
      if (ratio < 4.5) bad.push(`${text.textContent} ${ratio.toFixed(2)}`);
    }
    for (const mark of slot.querySelectorAll(".mark")) {
      const ratio = contrast(getComputedStyle(mark).fill, ground);
      if (ratio < 3) bad.push(`mark ${ratio.toFixed(2)}`);
    }
    for (const sign of slot.querySelectorAll(".sign")) {
      const ratio = contrast(getComputedStyle(sign).stroke, getComputedStyle(sign.parentNode.querySelector(".mark")).fill);
      if (ratio < 3) bad.push(`sign ${ratio.toFixed(2)}`);
    }
  }
  return bad;
});

/** What of a drawing cannot be read or hit: type below 9 px, targets below 24 px (WCAG 2.2, 2.5.8), texts over the edge,
 * two slots with the same text. */
const cramped = (page) => page.evaluate(() => {
  const bad = [];
  const seen = new Map();
  for (const slot of document.querySelectorAll(".slot")) {
    const name = slot.getAttribute("aria-label");
    const box = slot.getBoundingClientRect();
    if (slot.localName === "a" && Math.min(box.width, box.height) < 24) bad.push(`${name}: ${box.width} x ${box.height}`);
    const scale = slot.getScreenCTM().a;
    const edge = slot.querySelector(".body").getBBox();
    for (const text of slot.querySelectorAll("text")) {
      const size = parseFloat(getComputedStyle(text).fontSize) * scale;
      if (size < 9) bad.push(`${text.textContent}: ${size.toFixed(1)} px`);
      const lines = text.querySelector("tspan") ? [...text.querySelectorAll("tspan")] : [text];
      for (const line of lines) {
        // Blanks at the end are not seen.
        const width = line.getSubStringLength(0, Math.max(line.textContent.trimEnd().length, 1));
        if (10 + width > edge.x + edge.width - 3) bad.push(`${line.textContent} stands out: ${width} in ${edge.width}`);
      }
      const own = text.getBBox();
      if (own.y + own.height > edge.y + edge.height + 1) bad.push(`${text.textContent} stands out below`);
    }
    const key = `${slot.closest(".boards")?.previousElementSibling?.textContent}: ${slot.querySelector(".label").textContent}`;
    if (seen.has(key)) bad.push(`${key} twice`);
    seen.set(key, name);
  }
  return [...new Set(bad)];
});

/** What a page of hostile text must not have become. */
const inert = (page) => page.evaluate(() => {
  const found = [];
  if (globalThis.hostileRan) found.push("hostile code ran");
  const elements = [...document.querySelectorAll("*")];
  const known = new Set(
    ("html head meta title style body a svg symbol use path rect text tspan g header main footer h1 h2 h3 p span b dl dt dd div section ul ol li " +
      "label input figure figcaption table caption thead tbody tr th td article details summary code button select option noscript script").split(" "),
  );
  for (const element of elements) {
    if (!known.has(element.localName)) found.push(`element ${element.localName}`);
    for (const attribute of element.attributes) {
      if (attribute.name.startsWith("on") || attribute.name === "style" || attribute.name === "src") found.push(`attribute ${attribute.name}`);
      if (/^(href|action)$/.test(attribute.localName) && !/^(#|hosts\/\d{6}\.html$|\.\.\/index\.html$)/.test(attribute.value)) found.push(`link ${attribute.value}`);
    }
  }
  const scripts = elements.filter((element) => element.localName === "script" && element.type !== "application/json").length;
  if (scripts > 1) found.push(`${scripts} scripts`);
  const spoken = elements.flatMap((element) => [...element.attributes].map((attribute) => attribute.value));
  const obeyed = /[\u0000-\u0008\u000b-\u001f\u007f-\u009f\u00ad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ufff9-\ufffb]/;
  if ([document.body.innerText, document.title, ...spoken].some((text) => obeyed.test(text))) found.push("a character that a browser obeys");
  return found;
});

// The checks themselves can fail: a page made to fail them does.
{
  const context = await browser.newContext({ viewport: PHONE });
  const page = await context.newPage();
  const complaints = [];
  page.on("console", (message) => complaints.push(message.text()));
  await page.setContent(`<!doctype html><meta http-equiv="Content-Security-Policy" content="default-src 'none'"><img src="x.png">
    <p onclick="1" style="color:#ccc">\u202eweak</p><a href="javascript:1">x</a><script>1</script><font color="#cccccc">weak</font><div class="wide">${"w".repeat(500)}</div>
    <div class="boards"><svg><a class="slot" aria-label="x"><path class="body" fill="#fff" d="M0 0h20v20z"/><text class="label" font-size="8" fill="#eee">x</text></a>
    <a class="slot" aria-label="y"><path class="body" fill="#fff" d="M0 0h40v40z"/><text class="label" fill="#eee">xxxxxxxxx</text></a>
    <a class="slot" aria-label="z"><path class="body" fill="#fff" d="M0 0h40v40z"/><text class="label">x</text></a></svg></div>`);
  const found = await inert(page);
  for (const what of ["element img", "attribute onclick", "attribute style", "link javascript:1", "a character that a browser obeys"]) {
    check(`control: ${what} is found`, found.includes(what), found);
  }
  check("control: the checker finds faults", (await axe(page)).length > 0);
  check("control: the checker finds weak texts", (await axe(page, CONTRAST)).length > 0);
  check("control: faint drawings are found", (await drawingContrast(page)).length === 2);
  const tight = await cramped(page);
  for (const what of ["x: 20 x", "8.0 px", "stands out", "twice"]) check(`control: ${what} is found`, tight.some((own) => own.includes(what)), tight);
  check("control: the browser complains of what the policy forbids", complaints.some((text) => text.includes("Content Security Policy")), complaints);
  check("control: width is found", await page.evaluate(() => document.documentElement.scrollWidth > innerWidth));
  await context.close();
}

const validator = new HtmlValidate({
  extends: ["html-validate:recommended"],
  rules: {
    // Matters of taste: how void elements and attributes are written, and long titles of hostile files.
    "void-style": "off", "attribute-boolean-style": "off", "long-title": "off", "doctype-style": "off", "no-inline-style": "error",
    "no-trailing-whitespace": "off",
    // A region that scrolls must be reachable by keys, and has a name for that.
    "prefer-native-element": "off",
  },
});

const bad = await validator.validateString("<p><div></p><img>");
check("control: the validator finds faults", bad.errorCount > 0);
const pages = readdirSync(folder, { recursive: true }).map(String).filter((name) => name.endsWith(".html")).sort();
check("there are pages", pages.length > 8, pages);
const look = async (name, number) => {
  const markup = readFileSync(join(folder, name), "utf8");
  const report = await validator.validateString(markup);
  const messages = report.results.flatMap((result) => result.messages).map((message) => `${message.line}:${message.column} ${message.ruleId} ${message.message}`);
  check(`${name}: valid HTML`, messages.length === 0, messages.slice(0, 5));
  // Hosts of one fleet differ little: each is looked at in one size, in turn, and one pair in three for access, which
  // takes most of the time.
  const host = name.includes("hosts/");
  const sizes = host ? [[DESKTOP, PHONE][number % 2]] : [DESKTOP, PHONE];
  const access = !host || number % 6 < 2;
  for (const viewport of sizes) {
    const at = `${name} at ${viewport.width}`;
    const { context, page, complaints } = await open(name, { viewport, colorScheme: "light" });
    const slots = page.locator("a.slot");
    if (await slots.count()) await slots.first().focus();
    if (access) {
      const violations = await axe(page);
      check(`${at}: accessible`, violations.length === 0, violations);
    }
    const tight = await cramped(page);
    check(`${at}: drawings have room`, tight.length === 0, tight.slice(0, 5));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    check(`${at}: does not scroll sideways`, wide <= 0, `${wide} px too wide`);
    const found = await inert(page);
    check(`${at}: only our own elements`, found.length === 0, found.slice(0, 5));
    const faint = await drawingContrast(page);
    check(`${at} in light: drawings can be read`, faint.length === 0, faint.slice(0, 5));
    // The dark page differs by its colours alone.
    const light = await page.evaluate(() => getComputedStyle(document.body).backgroundColor);
    await page.emulateMedia({ colorScheme: "dark" });
    check(`${at}: dark is another colour`, light !== (await page.evaluate(() => getComputedStyle(document.body).backgroundColor)));
    if (access && viewport === DESKTOP) {
      const weak = await axe(page, CONTRAST);
      check(`${at} in dark: texts can be read`, weak.length === 0, weak);
    }
    const faintest = await drawingContrast(page);
    check(`${at} in dark: drawings can be read`, faintest.length === 0, faintest.slice(0, 5));
    const broken = await page.evaluate(() => globalThis.violations);
    check(`${at}: no complaint`, complaints.length === 0 && broken.length === 0, [...complaints, ...broken]);
    await context.close();
  }
};
// Two at a time: one waits where the other works.
const waiting = [...pages.entries()];
const worker = async () => {
  for (let next = waiting.shift(); next; next = waiting.shift()) await look(next[1], next[0]);
};
await Promise.all([worker(), worker()]);

// A slot by keyboard: the tab key reaches it, its facts appear, escape leads back.
{
  const { context, page } = await open("demo.html");
  let reached = null;
  for (let presses = 0; presses < 120 && reached !== "s1.c2.p2"; presses += 1) {
    await page.keyboard.press("Tab");
    reached = await page.evaluate(() => document.activeElement.querySelector?.(".label")?.textContent.trim() ?? null);
  }
  check("keyboard: the tab key reaches a slot", reached === "s1.c2.p2", String(reached));
  const text = await page.locator("#panel").innerText();
  for (const part of ["s1.c2.p2", "16GB 2Rx4 PC3L-10600R", "empty", "listing line 155", "Size: No Module Installed", "not fully seated", "check"]) {
    check(`keyboard: the panel says ${part}`, text.includes(part), text);
  }
  await page.keyboard.press("Escape");
  check("keyboard: escape puts the panel away", await page.evaluate(() => document.activeElement.matches("a.slot") && document.getElementById("panel").hidden));
  await page.keyboard.press("Enter");
  check("keyboard: enter leads into the panel", await page.evaluate(() => document.activeElement.id === "panel"));
  await page.keyboard.press("Escape");
  check("keyboard: escape leads back", await page.evaluate(() => document.activeElement.matches("a.slot") && document.getElementById("panel").hidden));
  await context.close();
}

// The focus that goes on from the last slot into the panel is not lost when the slot's time is over.
{
  const { context, page } = await open("demo.html");
  await page.locator("a.slot").last().focus();
  await page.keyboard.press("Tab");
  await page.waitForTimeout(500);
  check("keyboard: the way out of the map leads through the panel", await page.evaluate(() => document.activeElement.closest("#panel") !== null));
  await page.locator("h1").evaluate((title) => { title.tabIndex = -1; title.focus(); });
  await page.waitForTimeout(500);
  check("keyboard: which goes when it is left", await page.locator("#panel").isHidden());
  await context.close();
}

// With the mouse: pointing shows a slot while it lasts, a click keeps it.
{
  const { context, page } = await open("demo.html");
  const panel = page.locator("#panel");
  const shown = () => panel.locator("h3").first().innerText();
  await page.hover('a.slot[href="#slot-4"]');
  check("pointer: pointing shows a slot", (await shown()) === "s1.c2.p2");
  const box = await panel.boundingBox();
  check("pointer: what is shown is in view", box !== null && box.y >= 0 && box.y + box.height <= DESKTOP.height, box);
  await panel.hover();
  await page.waitForTimeout(500);
  check("pointer: it stays for who goes to it", await panel.isVisible());
  await page.hover("h1");
  await page.waitForTimeout(500);
  check("pointer: it goes with the pointer", await panel.isHidden());
  await page.click('a.slot[href="#slot-4"]');
  await page.hover('a.slot[href="#slot-10"]');
  check("pointer: a clicked slot stays", (await shown()) === "s1.c2.p2");
  await page.hover("h1");
  await page.waitForTimeout(500);
  check("pointer: and stays", (await panel.isVisible()) && (await shown()) === "s1.c2.p2");
  await page.click('a.slot[href="#slot-10"]');
  check("pointer: until another is clicked", (await shown()) !== "s1.c2.p2");
  await page.click("h1");
  await page.keyboard.press("Escape");
  check("pointer: escape puts it away from everywhere", await panel.isHidden());
  await page.hover('a.slot[href="#slot-4"]');
  await page.locator("#panel a[data-finding]").click();
  check("pointer: a link in it leads to the finding", (await panel.isHidden()) && page.url().endsWith("#finding-2"));
  await context.close();
}

// No slot that has the focus is behind the panel (WCAG 2.2, 2.4.11).
for (const name of ["demo.html", "large.html", ...pages.filter((own) => own.startsWith("real-"))]) {
  for (const viewport of name.startsWith("real-") ? [PHONE] : [DESKTOP, PHONE]) {
    const { context, page } = await open(name, { viewport });
    const slots = page.locator("a.slot");
    const behind = [];
    for (let at = 0; at < (await slots.count()); at += 1) {
      await (at === 0 ? slots.first().focus() : page.keyboard.press("Tab"));
      const hidden = await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => {
        const slot = document.activeElement.getBoundingClientRect();
        const panel = document.getElementById("panel").getBoundingClientRect();
        const apart = slot.bottom <= panel.top + 1 || slot.top >= panel.bottom - 1 || slot.right <= panel.left + 1 || slot.left >= panel.right - 1;
        done(!document.activeElement.matches("a.slot") || !apart || slot.bottom < 0 || slot.top > innerHeight ? document.activeElement.getAttribute("aria-label") ?? "another element" : null);
      }))));
      if (hidden !== null) behind.push(hidden);
    }
    check(`${name} at ${viewport.width}: each slot is beside the panel`, behind.length === 0, behind.slice(0, 5));
    await context.close();
  }
}

{
  const { context, page } = await open("compare.html");
  await page.hover("a.slot >> nth=0");
  const row = await page.locator('tbody[data-change] td').first().innerText();
  check("pointer: a changed slot shows what differs", (await page.locator("#panel").innerText()).includes(row), row);
  await context.close();
}

// By finger on a phone.
{
  const { context, page } = await open("demo.html", { viewport: PHONE, hasTouch: true, isMobile: true });
  await page.tap('a.slot[href="#slot-4"]');
  const box = await page.locator("#panel").boundingBox();
  check("touch: a tap shows the slot in view", box !== null && box.y >= 0 && box.y + box.height <= PHONE.height + 1, box);
  await page.tap("#panel button");
  check("touch: close closes", await page.locator("#panel").isHidden());
  await context.close();
}

// Without any script the same facts are a link away.
{
  const { context, page } = await open("demo.html", { javaScriptEnabled: false });
  await page.locator('a.slot[href="#slot-4"]').click();
  check("no script: a slot leads to its row", page.url().endsWith("#slot-4") && (await page.locator("#slot-4").innerText()).includes("s1.c2.p2"));
  await context.close();
}

// The work order on paper.
for (const [name, formats] of [["demo.html", ["A4", "Letter"]], ["large.html", ["A4"]]]) {
  const { context, page } = await open(name);
  await page.emulateMedia({ media: "print" });
  check(`print: ${name} has a place for the name`, await page.locator(".signed").isVisible());
  check(`print: ${name} has the steps and the map, not the findings`, (await page.locator(".steps li").count()) > 5 && (await page.locator("#findings").isHidden()) && (await page.locator(".board").last().isVisible()));
  for (const format of formats) {
    const pdf = (await page.pdf({ format })).toString("latin1");
    const sheets = pdf.match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
    check(`print: the work order of ${name} is one page of ${format}`, sheets === 1, `${sheets} pages`);
  }
  await context.close();
}

// The table of a fleet: filter, sort, rows as needed, links.
{
  const { context, page } = await open("pallet/index.html");
  const rows = () => page.locator('[data-rows="hosts-data"] tbody tr');
  const status = () => page.locator('[data-rows="hosts-data"] [role=status]').innerText();
  check("fleet: all hosts", (await status()) === "44 of 44" && (await rows().count()) === 44, await status());
  check("fleet: the worst first", (await rows().first().innerText()).includes("bay15"));
  const search = page.locator('[data-rows="hosts-data"] input[type=search]');
  await search.fill("plover");
  const shown = await rows().allInnerTexts();
  check("fleet: search", shown.length > 0 && shown.length < 44 && shown.every((text) => text.includes("Plover")), await status());
  await search.fill("faulty wrong plover");
  check("fleet: every word must be there", (await status()) === "0 of 44", await status());
  await search.fill("bay04 wrong-slot");
  check("fleet: words need not stand together", (await status()) === "1 of 44", await status());
  // 192 GiB in bytes, which no column shows.
  await search.fill("206158430208");
  check("fleet: what is not shown is not found", (await status()) === "0 of 44", await status());
  await search.fill("");
  await page.selectOption('[data-rows="hosts-data"] select[data-key=kind]', "wrong-slot");
  check("fleet: by kind", (await status()) === "1 of 44" && (await rows().first().innerText()).includes("bay04"), await status());
  await page.selectOption('[data-rows="hosts-data"] select[data-key=kind]', "");
  await page.locator('.tally button[data-value="not-audited"]').click();
  check("fleet: a number filters", (await status()) === "3 of 44", await status());
  await page.selectOption('[data-rows="hosts-data"] select[data-key=outcome]', "");
  const name = page.locator('[data-rows="hosts-data"] th[data-key=name]');
  await name.locator("button").click();
  const ascending = await rows().locator("th").allInnerTexts();
  check("fleet: sorted by name", (await name.getAttribute("aria-sort")) === "ascending" && ascending[0].includes("bay01") && ascending.at(-1).includes("bay44"), ascending);
  await name.locator("button").click();
  check("fleet: and backwards", (await rows().locator("th").first().innerText()).includes("bay44"));
  await search.focus();
  await page.keyboard.type("bay02");
  check("fleet: by keyboard", (await status()) === "1 of 44", await status());
  await rows().locator("th a").click();
  check("fleet: a host's own page", (await page.locator("h1").innerText()).includes("Deviates") && (await page.locator("header").innerText()).includes("bay02"));
  await context.close();
}
{
  const { context, page, complaints } = await open("big.html");
  const begun = Date.now();
  const rows = page.locator('[data-rows="hosts-data"] tbody tr');
  const status = page.locator('[data-rows="hosts-data"] [role=status]');
  check("ten thousand hosts: rows are made as needed", (await status.innerText()) === "10000 of 10000" && (await rows.count()) <= 300, `${await status.innerText()}, ${await rows.count()} rows`);
  const filter = await page.evaluate(() => {
    const search = document.querySelector("input[type=search]");
    const start = performance.now();
    search.value = "h009999";
    search.dispatchEvent(new Event("input"));
    return performance.now() - start;
  });
  check("ten thousand hosts: one is found", (await status.innerText()) === "1 of 10000", await status.innerText());
  await page.evaluate(() => {
    const search = document.querySelector("input[type=search]");
    search.value = "h0001";
    search.dispatchEvent(new Event("input"));
  });
  const before = await rows.count();
  await page.evaluate(() => dispatchEvent(new Event("beforeprint")));
  check("ten thousand hosts: on paper no row is left out", (await status.innerText()) === "100 of 10000" && before <= 100 && (await rows.count()) === 100, `${before} ${await rows.count()}`);
  const timing = await page.evaluate(() => performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd);
  console.log(`note   ten thousand hosts: ${(statSync(join(folder, "big.html")).size / 1e6).toFixed(1)} MB, opened in ${timing.toFixed(0)} ms, filtered in ${filter.toFixed(0)} ms`);
  check("ten thousand hosts: no complaint", complaints.length === 0, complaints);
  console.log(`note   looked at for ${Date.now() - begun} ms`);
  await context.close();
}

// A fleet on paper: every row and every column, without what cannot be pressed there.
{
  // The width of A4 less its margins.
  const { context, page } = await open("pallet/index.html", { viewport: { width: 703, height: 1000 } });
  await page.emulateMedia({ media: "print" });
  const right = await page.evaluate(() => Math.max(...[...document.querySelectorAll("td, th")].map((cell) => cell.getBoundingClientRect().right)));
  check("print: all columns of a fleet are on the sheet", right <= 703, String(right));
  check("print: no search box", (await page.locator("input[type=search]").first().isHidden()) && (await page.locator(".more").first().isHidden()));
  await page.emulateMedia({ media: "screen" });
  await page.locator('[data-rows="hosts-data"] input[type=search]').fill("bay04");
  await page.emulateMedia({ media: "print" });
  check("print: but what narrowed the table", await page.locator('[data-rows="hosts-data"] input[type=search]').isVisible());
  await context.close();
}
// Without any script the worst hosts and the modules are there.
{
  const { context, page } = await open("pallet/index.html", { javaScriptEnabled: false });
  const main = await page.locator("main").innerText();
  check("no script: a fleet has its worst hosts", main.includes("bay15.txt: "), main.slice(0, 500));
  check("no script: a fleet has its modules", (await page.locator("#modules ~ noscript").innerText()).includes("unaccounted"));
  await context.close();
}

// Hostile text stays text: what is written in the files is what is seen.
{
  const wanted = JSON.parse(readFileSync(join(folder, "hostile.json"), "utf8"));
  for (const [name, texts] of Object.entries(wanted)) {
    const { context, page } = await open(name);
    for (const link of await page.locator("a.slot").all()) await link.focus();
    for (const button of await page.locator("th button").all()) await button.click();
    await page.evaluate(() => { for (const box of document.querySelectorAll("details")) box.open = true; });
    const seen = await page.evaluate(() => document.body.innerText + [...document.querySelectorAll("[aria-label]")].map((node) => node.getAttribute("aria-label")).join("\n"));
    for (const text of texts) check(`${name}: ${JSON.stringify(text)} stays text`, seen.includes(text), seen.slice(0, 600));
    const found = await inert(page);
    check(`${name}: nothing of it is obeyed`, found.length === 0, found);
    await context.close();
  }
}

await browser.close();
console.log(failed === 0 ? "all checks passed" : `${failed} checks failed`);
process.exit(failed === 0 ? 0 : 1);
