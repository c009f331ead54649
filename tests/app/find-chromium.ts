import {
  existsSync,
  mkdirSync,
  readFileSync,
  realpathSync,
  renameSync,
  writeFileSync,
} from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const home = fileURLToPath(new URL('../..', import.meta.url));

/** Where a Chromium stands on common systems. */
const known = [
  '/usr/bin/chromium',
  '/usr/bin/chromium-browser',
  '/usr/bin/google-chrome',
  '/usr/bin/google-chrome-stable',
  '/snap/bin/chromium',
  '/Applications/Google Chrome.app/Contents/MacOS/Google Chrome',
  '/Applications/Chromium.app/Contents/MacOS/Chromium',
  'C:\\Program Files\\Google\\Chrome\\Application\\chrome.exe',
  'C:\\Program Files (x86)\\Google\\Chrome\\Application\\chrome.exe',
];

/** A Chromium: the one named by UNCLICKED_CHROMIUM, the system's, Playwright's own, else one from a package. */
export async function findChromium(): Promise<string> {
  const named = process.env.UNCLICKED_CHROMIUM;
  if (named) return named;
  const found = [...known, chromium.executablePath()].find((path) => path && existsSync(path));
  if (found) return found;
  // The package unpacks where TMPDIR says, and its system libraries only where it believes to run in that cloud.
  mkdirSync(join(home, 'node_modules', '.cache', 'chromium'), { recursive: true });
  // By its own name, whichever of several work trees has it by a link: one that is gone again takes no fonts along.
  const cache = realpathSync(join(home, 'node_modules', '.cache', 'chromium'));
  process.env.AWS_EXECUTION_ENV ??= 'AWS_Lambda_nodejs20.x';
  process.env.TMPDIR = cache;
  const { default: packed } = await import('@sparticuz/chromium');
  const path = await packed.executablePath();
  // The package's own list of font folders knows /tmp only, and without any font Chromium ends at the first text.
  // Its own face and no other: the system's, with no list of which stands for which, may be a typewriter's.
  const fonts = join(cache, 'fonts');
  mkdirSync(fonts, { recursive: true });
  const list = join(fonts, 'fonts.conf');
  const text = `<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig><dir>${fonts}</dir><cachedir>${cache}/fonts-cache</cachedir></fontconfig>`;
  // Whole or not at all: a browser that another run starts just now would have no font, and no word any width.
  if (!existsSync(list) || readFileSync(list, 'utf8') !== text) {
    writeFileSync(`${list}.${process.pid}`, text);
    renameSync(`${list}.${process.pid}`, list);
  }
  process.env.FONTCONFIG_PATH = fonts;
  return path;
}

/**
 * Before any test: the packed Chromium is unpacked here once, since two test files that unpack it at the
 * same time find each other's half of it. What it needs in the environment is inherited by them.
 */
export default async function unpackChromium(): Promise<void> {
  process.env.UNCLICKED_CHROMIUM = await findChromium();
}
