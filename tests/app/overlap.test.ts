import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { holdAnswers } from './held-answers.ts';
import { shortTake } from './short-take.ts';

/** What is asked for on the page, while something else takes it away. */
const built = useBuiltPage();
const [mix, harp] = shortTake();
const button = (page: Page, name: string | RegExp) =>
  page.getByRole('button', { name, exact: true });
const words = (page: Page) => page.locator('.sheet-words .slice');
/** Opens another take in the place of what is open. */
const open = async (page: Page, name: string) => {
  const choosing = page.waitForEvent('filechooser');
  await button(page, 'open').click();
  const other = { ...shortTake(30)[0], name: `${name}.wav` };
  await (await choosing).setFiles([other] as never);
  await page.waitForFunction(
    (name) => document.querySelector<HTMLInputElement>('input.title')?.value === name,
    name,
  );
  await words(page).first().waitFor();
};

it('the tuner listens again when a stem comes back while it listens', async () => {
  const { page, errors } = await built.open({ prepare: holdAnswers, files: [mix, harp] as never });
  await words(page).first().waitFor();
  await button(page, 'listening').first().click();
  await button(page, 'Remove Harp').click();
  await button(page, 'close').click();
  await page.evaluate(() => window.holdAnswer('read', 'track'));
  await button(page, 'Undo: remove a stem').click();
  await page.waitForFunction(() => window.answerCame('read'));
  await page.keyboard.press('Shift+U');
  await page.getByRole('dialog').getByText('Listening …').waitFor();
  await page.waitForFunction(() => window.answerCame('track'));
  await page.evaluate(() => window.letAnswer('read'));
  await page.locator('.tuner-note').first().waitFor();
  await button(page, 'close').click();
  expect(await page.getByRole('alert').textContent()).toBe('');
  expect(errors).toEqual([]);
  await page.context().close();
});

it('a note that is learned for a pad is none of another project', async () => {
  const { page, errors } = await built.open({
    files: mix,
    prepare: (page) =>
      page.addInitScript(() => {
        const input = { state: 'connected', name: 'Two octaves', onmidimessage: () => {} };
        Object.assign(window, { keyboard: input });
        Object.assign(navigator, {
          requestMIDIAccess: async () => ({ inputs: new Map([['1', input]]), onstatechange: null }),
        });
      }),
  });
  await words(page).first().waitFor();
  await page.locator('.pad:not(.none)').first().click();
  await button(page, 'listening').first().click();
  await button(page, 'play the pads from MIDI').click();
  await button(page, 'learn a note for the chosen pad').click();
  await button(page, 'close').click();
  await open(page, 'Flood mix');
  await page.evaluate(() => {
    const { keyboard } = window as unknown as {
      keyboard: { onmidimessage: (event: object) => void };
    };
    keyboard.onmidimessage({ data: Uint8Array.of(0x90, 60, 90), timeStamp: performance.now() });
  });
  expect(await button(page, 'Undo: nothing').count()).toBe(1);
  expect(errors).toEqual([]);
  await page.context().close();
});

it('what is to be played in while sound wakes up is not played into another project', async () => {
  const { page, errors } = await built.open({
    files: mix,
    prepare: (page) =>
      page.addInitScript(() => {
        const { resume } = AudioContext.prototype;
        const later = window.setTimeout;
        const woken: (() => Promise<void>)[] = [];
        // Neither is it awake nor is it given up before the test says so.
        AudioContext.prototype.resume = function () {
          return new Promise<void>((done) => woken.push(async () => done(await resume.call(this))));
        };
        window.setTimeout = ((run: () => void, after?: number) =>
          after === 3000 ? 0 : later(run, after)) as typeof window.setTimeout;
        Object.assign(window, { woken });
      }),
  });
  await words(page).first().waitFor();
  await button(page, 'A new flip').click();
  await button(page, 'play it in').click();
  await page.waitForFunction(() => (window as unknown as { woken: unknown[] }).woken.length > 0);
  await open(page, 'Flood mix');
  await button(page, 'A new flip').click();
  await page.evaluate(async () => {
    const { woken } = window as unknown as { woken: (() => Promise<void>)[] };
    // Sound is asked to wake by the deed, and once more before it would begin.
    for (let times = 0; times < 2; times++) {
      await Promise.all(woken.splice(0).map((wake) => wake()));
      for (let turn = 0; turn < 20; turn++) await new Promise((next) => setTimeout(next));
    }
  });
  expect(await button(page, 'play it in').getAttribute('aria-pressed')).toBe('false');
  expect(errors).toEqual([]);
  await page.context().close();
});
