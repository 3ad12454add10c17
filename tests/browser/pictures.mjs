// Takes the pictures of docs/pages.md anew: `node tests/browser/pictures.mjs`, after `cargo build --release`.
import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { DESKTOP, PHONE, launch } from "./open.mjs";

const root = fileURLToPath(new URL("../../", import.meta.url));
const work = mkdtempSync(join(tmpdir(), "asfitted-"));
const pictures = join(root, "docs", "pictures");
mkdirSync(pictures, { recursive: true });

const asfitted = (folder, ...rest) => {
  const run = spawnSync(join(root, "target", "release", "asfitted"), [...rest, "--format", "html"], { cwd: join(root, folder), encoding: "utf8" });
  if (run.error ?? run.stderr) throw run.error ?? new Error(run.stderr);
};
asfitted(".", "demo", "--output", join(work, "audit.html"));
asfitted("fixtures/pallet", "fleet", "listings", "--plans", "plans", "--stock", "stock.csv", "--output", join(work, "pallet"));

const browser = await launch();
const picture = async (page, name, viewport, { prepare, media, ...options } = {}) => {
  const context = await browser.newContext({ viewport, ...options });
  const opened = await context.newPage();
  if (media) await opened.emulateMedia({ media });
  await opened.goto(pathToFileURL(join(work, page)).href);
  await prepare?.(opened);
  await opened.screenshot({ path: join(pictures, `${name}.png`) });
  await context.close();
};
const chosen = async (page) => page.locator('a.slot[href="#slot-4"]').focus();
await picture("audit.html", "audit-desktop", { width: DESKTOP.width, height: 1250 }, { prepare: chosen });
await picture("audit.html", "audit-phone", PHONE, {
  colorScheme: "dark",
  prepare: async (page) => {
    await page.locator("#map").scrollIntoViewIfNeeded();
    await page.evaluate(() => document.getElementById("map").scrollIntoView());
    await page.locator('a.slot[href="#slot-4"]').click();
  },
});
await picture("audit.html", "audit-paper", { width: 720, height: 960 }, { media: "print" });
await picture("pallet/index.html", "pallet-desktop", { width: DESKTOP.width, height: 1250 });
await picture("pallet/index.html", "pallet-phone", PHONE);
await browser.close();
rmSync(work, { recursive: true });
