// The browser, without anything that it would want from a network.
import { chromium } from "playwright-core";

const FLAGS = [
  "--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-component-update", "--disable-sync",
  "--no-first-run", "--disable-quic",
];

export const launch = () => chromium.launch({ executablePath: process.env.ASFITTED_CHROMIUM || "/usr/bin/chromium", args: FLAGS });

export const PHONE = { width: 390, height: 844 };
export const DESKTOP = { width: 1280, height: 900 };
