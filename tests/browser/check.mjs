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

const axe = async (page) => {
  // Evaluated by the debugger: the page's own policy would refuse another script.
  await page.evaluate(axeSource);
  const result = await page.evaluate((options) => globalThis.axe.run(document, options), AXE);
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

/** What a page of hostile text must not have become. */
const inert = (page) => page.evaluate(() => {
  const found = [];
  if (globalThis.hostileRan) found.push("hostile code ran");
  const elements = [...document.querySelectorAll("*")];
  const known = new Set(
    ("html head meta title style body a svg symbol use path rect text g header main footer h1 h2 h3 p span b dl dt dd div section ul ol li " +
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
    <p onclick="1" style="color:#ccc">\u202eweak</p><a href="javascript:1">x</a><script>1</script><div class="wide">${"w".repeat(500)}</div>
    <svg><a class="slot"><path class="body" fill="#fff"/><text fill="#eee">x</text></a></svg>`);
  const found = await inert(page);
  for (const what of ["element img", "attribute onclick", "attribute style", "link javascript:1", "a character that a browser obeys"]) {
    check(`control: ${what} is found`, found.includes(what), found);
  }
  check("control: the checker finds faults", (await axe(page)).length > 0);
  check("control: faint drawings are found", (await drawingContrast(page)).length === 1);
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
const SETTINGS = [[DESKTOP, "light"], [PHONE, "dark"], [DESKTOP, "dark"], [PHONE, "light"]];
for (const [number, name] of pages.entries()) {
  const markup = readFileSync(join(folder, name), "utf8");
  const report = await validator.validateString(markup);
  const messages = report.results.flatMap((result) => result.messages).map((message) => `${message.line}:${message.column} ${message.ruleId} ${message.message}`);
  check(`${name}: valid HTML`, messages.length === 0, messages.slice(0, 5));
  // Hosts of one fleet differ little: each is looked at in one setting, in turn.
  const settings = name.includes("hosts/") ? [SETTINGS[number % SETTINGS.length]] : SETTINGS;
  for (const [viewport, colorScheme] of settings) {
    const at = `${name} at ${viewport.width} ${colorScheme}`;
    const { context, page, complaints } = await open(name, { viewport, colorScheme });
    const slots = page.locator("a.slot");
    if (await slots.count()) await slots.first().focus();
    const violations = await axe(page);
    check(`${at}: accessible`, violations.length === 0, violations);
    const faint = await drawingContrast(page);
    check(`${at}: drawings can be read`, faint.length === 0, faint.slice(0, 5));
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
    check(`${at}: does not scroll sideways`, wide <= 0, `${wide} px too wide`);
    const found = await inert(page);
    check(`${at}: only our own elements`, found.length === 0, found.slice(0, 5));
    const broken = await page.evaluate(() => globalThis.violations);
    check(`${at}: no complaint`, complaints.length === 0 && broken.length === 0, [...complaints, ...broken]);
    await context.close();
  }
}

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
  await page.keyboard.press("Enter");
  check("keyboard: enter leads into the panel", await page.evaluate(() => document.activeElement.id === "panel"));
  await page.keyboard.press("Escape");
  check("keyboard: escape leads back", await page.evaluate(() => document.activeElement.matches("a.slot") && document.getElementById("panel").hidden));
  await page.hover('a.slot[href="#slot-10"]');
  check("pointer: hovering shows another slot", (await page.locator("#panel h3").first().innerText()) !== "s1.c2.p2");
  await context.close();
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
  const target = await page.evaluate(() => Math.min(...[...document.querySelectorAll("a.slot")].flatMap((slot) => { const box = slot.getBoundingClientRect(); return [box.width, box.height]; })));
  check("touch: targets are at least 24 px (WCAG 2.2, 2.5.8)", target >= 24, String(target));
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
  const timing = await page.evaluate(() => performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd);
  console.log(`note   ten thousand hosts: ${(statSync(join(folder, "big.html")).size / 1e6).toFixed(1)} MB, opened in ${timing.toFixed(0)} ms, filtered in ${filter.toFixed(0)} ms`);
  check("ten thousand hosts: no complaint", complaints.length === 0, complaints);
  console.log(`note   looked at for ${Date.now() - begun} ms`);
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
