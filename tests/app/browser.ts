import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import { serve } from '../../src/setup/serve.mjs';

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
async function findChromium(): Promise<string> {
  const named = process.env.UNCLICKED_CHROMIUM;
  if (named) return named;
  const found = [...known, chromium.executablePath()].find((path) => path && existsSync(path));
  if (found) return found;
  // The package unpacks where TMPDIR says, and its system libraries only where it believes to run in that cloud.
  const cache = join(home, 'node_modules', '.cache', 'chromium');
  mkdirSync(cache, { recursive: true });
  process.env.AWS_EXECUTION_ENV ??= 'AWS_Lambda_nodejs20.x';
  process.env.TMPDIR = cache;
  const { default: packed } = await import('@sparticuz/chromium');
  return packed.executablePath();
}

/** Starts a Chromium without a window in which sound may start by itself. Close it when done. */
export async function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: await findChromium(),
    args: [
      '--no-sandbox',
      '--autoplay-policy=no-user-gesture-required',
      '--disable-background-timer-throttling',
      '--disable-renderer-backgrounding',
      '--disable-backgrounding-occluded-windows',
      '--disable-dev-shm-usage',
    ],
  });
}

/** Serves a built folder as the page is served, with its policy. */
export async function serveFolder(folder: string): Promise<{ address: string; close: () => void }> {
  if (!existsSync(join(folder, 'index.html')))
    throw new Error(`${folder} is not built; run "npm run build" first.`);
  const { server, address } = await serve(folder);
  return {
    address,
    close: () => {
      server.closeAllConnections();
      server.close();
    },
  };
}

/** The built page: dist/page, or the folder that UNCLICKED_PAGE names. */
export const servePage = () =>
  serveFolder(process.env.UNCLICKED_PAGE ?? join(home, 'dist', 'page'));

/** A page whose errors, of its own and of its policy, are collected; every test ends by looking at them. */
export async function openPage(
  browser: Browser,
  address: string,
  options: BrowserContextOptions = {},
): Promise<{ page: Page; errors: string[] }> {
  const context = await browser.newContext({ viewport: { width: 1366, height: 768 }, ...options });
  const page = await context.newPage();
  const errors: string[] = [];
  page.on('pageerror', (error) => errors.push(error.stack ?? error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(`${message.text()} ${message.location().url}`);
  });
  await page.goto(address);
  return { page, errors };
}
