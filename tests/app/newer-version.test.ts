import { appendFileSync, cpSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { openBrowser, openPage, serveFolder } from './browser.ts';
import { chooseTake } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** A newer version of the page that comes while it is open in two windows. */
const home = fileURLToPath(new URL('../..', import.meta.url));
let folder: string;
let site: { address: string; close: () => void };
let browser: Browser;

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'unclicked-page-'));
  cpSync(process.env.UNCLICKED_PAGE ?? join(home, 'dist', 'page'), folder, { recursive: true });
  site = await serveFolder(folder);
  browser = await openBrowser();
});
afterAll(async () => {
  await browser?.close();
  site?.close();
  rmSync(folder, { recursive: true, force: true });
});

const newer = (page: Page) => page.getByText('A newer version of this page is here').waitFor();

it('is taken where somebody says so, with what was done last, and disturbs no other window', async () => {
  const { page, errors } = await openPage(browser, site.address);
  page.setDefaultTimeout(30_000);
  await page.evaluate(async () => void (await navigator.serviceWorker.ready));
  // Opened after the first one: kept by the worker that the first one has brought.
  const other = await page.context().newPage();
  other.setDefaultTimeout(30_000);
  await other.goto(site.address);
  expect(await other.evaluate(() => navigator.serviceWorker.controller !== null)).toBe(true);
  await chooseTake(page, shortTake().slice(0, 1));
  await page.locator('.sheet-words .slice').first().waitFor();

  appendFileSync(join(folder, 'sw.js'), '\n// newer\n');
  await other.evaluate(() => Object.assign(window, { atWork: true }));
  await page.evaluate(async () => void (await (await navigator.serviceWorker.ready).update()));
  await newer(page);
  await newer(other);
  const title = page.getByRole('textbox', { name: 'Name of the project' });
  await title.fill('done last');
  await title.press('Enter');
  await Promise.all([
    page.waitForEvent('load'),
    page.getByRole('button', { name: 'take it' }).click(),
  ]);
  await page.locator('.sheet-words .slice').first().waitFor();
  expect(await title.inputValue()).toBe('done last');

  await other.getByText('Another window has taken a newer version').waitFor();
  expect(await other.evaluate(() => 'atWork' in window)).toBe(true);
  await Promise.all([
    other.waitForEvent('load'),
    other.getByRole('button', { name: 'load it' }).click(),
  ]);
  expect(errors).toEqual([]);
});

it('is whole from the first visit on: what is loaded later is there when the network has gone', async () => {
  const { page, errors } = await openPage(browser, site.address);
  page.setDefaultTimeout(30_000);
  await page.evaluate(async () => void (await navigator.serviceWorker.ready));
  await page.waitForFunction(() => navigator.serviceWorker.controller !== null);
  await page.context().setOffline(true);
  site.close();
  await chooseTake(page, shortTake().slice(0, 1));
  await page.locator('.sheet-words .slice').first().waitFor();
  await page.locator('.sheet-words .slice').first().click();
  await page.waitForFunction(() => document.querySelector('.pad.sounds') !== null);
  await page.keyboard.press('Shift+U');
  await page.getByRole('dialog').waitFor();
  expect(errors).toEqual([]);
});
