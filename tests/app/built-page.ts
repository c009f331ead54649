import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { afterAll, beforeAll } from 'vitest';
import { openBrowser, openPage, servePage } from './browser.ts';
import { listen } from './listening.ts';

/** A file to be chosen: where it lies, or what is in it. */
export type Chosen = string | { name: string; mimeType: string; buffer: Buffer };

export interface Opening extends BrowserContextOptions {
  /** What is opened as the take, with its stems. */
  readonly files?: Chosen | readonly Chosen[];
  /** What is set up before the page is opened. */
  readonly prepare?: (page: Page) => Promise<unknown>;
}

export interface BuiltPage {
  readonly browser: () => Browser;
  readonly address: () => string;
  /** Serves no more, and again, for tests without a network. */
  readonly stop: () => void;
  readonly again: () => Promise<void>;
  /** A fresh page in a context of its own, heard (`listening.ts`), with a take if files are given. */
  readonly open: (opening?: Opening) => Promise<{ page: Page; errors: string[] }>;
}

/** Chooses files as a hand does, from the page's own "open one". */
export async function chooseTake(page: Page, files: Chosen | readonly Chosen[]): Promise<void> {
  const choosing = page.waitForEvent('filechooser');
  await page.getByRole('button', { name: 'open one' }).click();
  await (await choosing).setFiles(files as string);
}

/** One browser and the built page for all tests of a file: there before the first, gone after the last. */
export function useBuiltPage(): BuiltPage {
  let browser: Browser;
  let site: { address: string; close: () => void };
  const again = async () => {
    site = await servePage();
  };
  beforeAll(async () => {
    browser = await openBrowser();
    await again();
  });
  afterAll(async () => {
    await browser?.close();
    site?.close();
  });
  return {
    browser: () => browser,
    address: () => site.address,
    stop: () => site.close(),
    again,
    open: async ({ files, prepare, ...options } = {}) => {
      const { page, errors } = await openPage(browser, 'about:blank', options);
      page.setDefaultTimeout(30_000);
      await listen(page);
      await prepare?.(page);
      await page.goto(site.address);
      if (files) await chooseTake(page, files);
      return { page, errors };
    },
  };
}
