import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { type Browser, type BrowserContextOptions, chromium, type Page } from 'playwright-core';
import { serve } from '../../src/setup/serve.mjs';
import { findChromium } from './find-chromium.ts';

const home = fileURLToPath(new URL('../..', import.meta.url));

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
