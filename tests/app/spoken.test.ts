import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';
import { wideWords } from './states.ts';

/** What a screen reader is told while keys alone do the work. */
const built = useBuiltPage();

/** All that comes into live regions from now on (WAI-ARIA 1.2: alert, status, aria-live), each once. */
const listen = (page: Page) =>
  page.addInitScript(() => {
    const told: string[] = [];
    Object.assign(window, { told });
    addEventListener('DOMContentLoaded', () =>
      new MutationObserver((changes) => {
        for (const { target } of changes) {
          const element = target instanceof Element ? target : target.parentElement;
          const region = element?.closest('[aria-live], [role="status"], [role="alert"]');
          const text = region?.textContent?.trim();
          if (text && told.at(-1) !== text) told.push(text);
        }
      }).observe(document.body, { subtree: true, childList: true, characterData: true }),
    );
  });
const told = (page: Page) => page.evaluate(() => (window as unknown as { told: string[] }).told);

it('tells that a take is heard, where cuts, landings and words of the lane go by keys, and nothing of saving', async () => {
  const { page, errors } = await built.open({ files: shortTake(), prepare: listen });
  const words = page.locator('.sheet-words .slice');
  await words.first().waitFor();
  const hears = (sentence: RegExp) =>
    expect.poll(() => told(page)).toContainEqual(expect.stringMatching(sentence));
  await hears(/^Heard: two lines, \w+ slices\.$/);
  const [, second = 1] = await wideWords(page);
  await words.nth(second).focus();
  await page.keyboard.press('Alt+Shift+ArrowRight');
  await hears(/^Starts at \d\.\d+ seconds\.$/);
  await page.keyboard.press('Alt+Shift+ArrowDown');
  await hears(/^Lands at \d\.\d+ seconds\.$/);
  await page.keyboard.press('Delete');
  await hears(/^Joined\.$/);
  await words.first().focus();
  await page.keyboard.press('Delete');
  await hears(/^No word stands before this one/);
  await page.keyboard.press('Shift+N');
  await page.locator('.lane-word').first().focus();
  await page.keyboard.press('Alt+ArrowRight');
  await hears(/^Bar 1, beat 1\.25\.$/);
  await page.keyboard.press('Alt+Shift+ArrowRight');
  await hears(/^[\d.]+ beats long\.$/);
  await page.locator('.saved', { hasText: /^saved$/ }).waitFor();
  expect((await told(page)).filter((text) => /^sav(ed|ing)$/.test(text))).toEqual([]);
  expect(errors).toEqual([]);
  await page.context().close();
});
