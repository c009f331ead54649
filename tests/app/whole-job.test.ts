import { mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { inflateRawSync } from 'node:zlib';
import type { Browser, BrowserContext, Download, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { readZip } from '../../shared/pack/zip-read.ts';
import { lengthOf } from '../../shared/take/audio.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { openBrowser, servePage } from './browser.ts';
import { listen, untilHeard } from './listening.ts';
import { wideWords } from './states.ts';

/**
 * The whole job with hands on the built page, as one user does it, one step after the other: demo, cuts,
 * pads, taps, loop, flip, comparison, files; then the same again after a reload and without a network. That no
 * state of the page has a fault that axe finds is tested in `states/`.
 */
let browser: Browser;
let site: { address: string; close: () => void };
let context: BrowserContext;
let page: Page;
const errors: string[] = [];
let folder: string;
const projectFile = () => join(folder, 'Slack Water.unclicked.zip');

const words = () => page.locator('.sheet-words .slice');
const listening = () =>
  page.getByRole('region', { name: 'Lane' }).getByRole('button', { name: 'listening' });
/** Presses one of the words that are wide enough for any hand. */
const press = async (k: number) => {
  const wide = await wideWords(page);
  await words()
    .nth(wide[k % wide.length] ?? 0)
    .click();
};
const laneWords = () => page.locator('.lane-word');
const button = (name: string | RegExp, exact = true) => page.getByRole('button', { name, exact });

async function bytesOf(download: Download): Promise<Buffer> {
  return readFile(await download.path());
}

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'whole-job-'));
  browser = await openBrowser();
  site = await servePage();
  context = await browser.newContext({
    viewport: { width: 1366, height: 768 },
    acceptDownloads: true,
  });
  page = await context.newPage();
  page.on('pageerror', (error) => errors.push(error.stack ?? error.message));
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(`${message.text()} ${message.location().url}`);
  });
  // Playing and hearing the demo is work for many seconds on a busy machine.
  page.setDefaultTimeout(100_000);
  await listen(page);
  await page.goto(site.address);
});
afterAll(async () => {
  await browser?.close();
  site?.close();
  await rm(folder, { recursive: true });
});

describe('the whole job', () => {
  it('begins with an empty sheet and one line of writing', async () => {
    await button('try the demo take').waitFor();
  });

  it('can be stopped at work, and begins again', async () => {
    await button('try the demo take').click();
    await page.getByRole('progressbar').waitFor();
    await button('cancel').click();
    await page.getByRole('progressbar').waitFor({ state: 'detached' });
    await button('try the demo take').waitFor();
    expect(await words().count()).toBe(0);
  });

  it('hears the demo take', async () => {
    await button('try the demo take').click();
    await page.getByRole('progressbar').waitFor();
    await words().first().waitFor();
    expect(await words().count()).toBeGreaterThan(5);
    expect(await page.locator('.sheet-words .beat').count()).toBeGreaterThan(10);
  });

  it('sounds a slice that is pressed', async () => {
    await press(0);
    await untilHeard(page);
    await page.keyboard.press('Escape');
    await untilHeard(page, false);
  });

  it('plays pads from the keys', async () => {
    // A short slice may be over before the next look at the page, so that pads are noted as they light up.
    await page.evaluate(() => {
      const seen = new Set<string>();
      const note = () => {
        for (const pad of document.querySelectorAll('.pad.sounds'))
          seen.add(pad.getAttribute('data-pad') ?? '');
      };
      new MutationObserver(note).observe(document.body, { subtree: true, attributes: true });
      Object.assign(window, { padsSeen: seen });
    });
    // Two that hold a slice, whatever the hearing has suggested; their letters stand in their names.
    const two = await page.locator('.pad:not(.none)').evaluateAll((all) =>
      [all[0], all[all.length - 1]].map((pad) => ({
        place: pad?.getAttribute('data-pad') ?? '',
        key: /^Pad (.),/.exec(pad?.getAttribute('aria-label') ?? '')?.[1]?.toLowerCase() ?? '',
      })),
    );
    for (const { key } of two) await page.keyboard.down(key);
    await page.waitForFunction(
      (places) => {
        const { padsSeen } = window as unknown as { padsSeen: Set<string> };
        return places.every((place) => padsSeen.has(place));
      },
      two.map(({ place }) => place),
    );
    for (const { key } of two) await page.keyboard.up(key);
    await untilHeard(page, false);
  });

  it('makes more cuts and takes them back in one step', async () => {
    const before = await page
      .getByRole('slider', { name: 'Fewer or more cuts' })
      .getAttribute('aria-valuetext');
    const slider = page.getByRole('slider', { name: 'Fewer or more cuts' });
    await slider.focus();
    await slider.press('PageUp');
    await page.waitForFunction(
      (before) =>
        document.querySelector('input[type=range]')?.getAttribute('aria-valuetext') !== before,
      before,
    );
    await button('Undo: change how many cuts').click();
    await page.waitForFunction(
      (before) =>
        document.querySelector('input[type=range]')?.getAttribute('aria-valuetext') === before,
      before,
    );
  });

  it('splits a slice and joins it again', async () => {
    const count = await page
      .getByRole('slider', { name: 'Fewer or more cuts' })
      .getAttribute('aria-valuetext');
    await press(1);
    await page.keyboard.press('Shift+S');
    await button('Undo: split a slice').waitFor();
    await page.keyboard.press('Shift+J');
    await button('Undo: join slices').waitFor();
    expect(
      await page.getByRole('slider', { name: 'Fewer or more cuts' }).getAttribute('aria-valuetext'),
    ).toBe(count);
  });

  it('takes taps while the take plays, as one step', async () => {
    await page.keyboard.press('Escape');
    await button('tap the beat along').click();
    await untilHeard(page);
    for (let i = 0; i < 4; i++) {
      await page.keyboard.press('x');
      // The next tap comes when the take has gone on a little.
      const now = await page.evaluate(() => performance.now());
      await page.waitForFunction((now) => performance.now() > now + 350, now);
    }
    await page.getByText('Four beats so far').waitFor();
    await button('done').click();
    await button('Undo: tap beats').waitFor();
    await untilHeard(page, false);
  });

  it('lets a stem be heard alone, and brings a removed one back with its sound', async () => {
    await listening().click();
    const stems = page.getByRole('button', { name: /^Remove / });
    expect(await stems.count()).toBe(3);
    await stems.first().click();
    await page.waitForFunction(
      () => document.querySelectorAll('[aria-label^="Remove "]').length === 2,
    );
    await button('close').click();
    await button('Undo: remove a stem').click();
    await listening().click();
    await page.waitForFunction(
      () => document.querySelectorAll('[aria-label^="Remove "]').length === 3,
    );
    const heard = page.getByRole('combobox', { name: /^how Guitar is heard/ });
    await heard.selectOption('alone');
    await button('close').click();
    await button('take').click();
    await untilHeard(page);
    await button('take').click();
    await untilHeard(page, false);
    await listening().click();
    await heard.selectOption('heard');
    await button('close').click();
  });

  it('makes a straight loop of a line and plays it round', async () => {
    await page.locator('.sheet-words .line').first().click();
    await button('make a straight loop').click();
    await laneWords().first().waitFor();
    await page.getByText('seam: ').first().waitFor();
    await button('loop').click();
    await untilHeard(page);
    await button('Compare take and loop, equally loud').click();
    await page
      .getByText(/turned down [\d.]+ dB|equally loud/)
      .first()
      .waitFor();
    await untilHeard(page);
    await words().first().focus();
    await page.keyboard.press('Space');
    await untilHeard(page, false);
  });

  it('turns slices round on a flip', async () => {
    await button('A new flip').click();
    for (const k of [1, 3, 0, 2]) {
      await press(k);
      await button('set on the lane').click();
    }
    await page.waitForFunction(() => document.querySelectorAll('.lane-word').length === 4);
    const tempo = page.getByRole('spinbutton', { name: 'tempo' });
    await tempo.click();
    await tempo.fill('92');
    await tempo.press('Enter');
    await button('Undo: change the tempo').waitFor();
    await page.keyboard.press('Escape');
    await page.keyboard.press('Escape');
  });

  it('saves the loop as a WAV of exactly the right length', async () => {
    await button('save').click();
    await page.getByRole('dialog').waitFor();
    const coming = page.waitForEvent('download');
    await button('Save the loop').click();
    const download = await coming;
    expect(download.suggestedFilename()).toMatch(/^Slack Water flip A 92bpm .*\d+bars mix\.wav$/);
    const { audio, bits } = readWav(await bytesOf(download), 'loop.wav');
    expect(bits).toBe(24);
    const beats = (lengthOf(audio) / audio.sampleRate) * (92 / 60);
    expect(lengthOf(audio)).toBe(Math.round((Math.round(beats) * 60 * audio.sampleRate) / 92));
    expect(audio.channels.some((channel) => channel.some((x) => Math.abs(x) > 0.01))).toBe(true);
  });

  it('packs everything and saves the project', async () => {
    const coming = page.waitForEvent('download');
    await button('Save the pack').click();
    const pack = await coming;
    const files = readZip(sourceOf(await bytesOf(pack)), 'pack.zip', (bytes) =>
      inflateRawSync(bytes),
    );
    const names = [...files.keys()];
    for (const ending of ['manifest.json', 'tempo map.mid', 'report.html', 'README.txt'])
      expect(names.some((name) => name.endsWith(ending))).toBe(true);
    const manifest = JSON.parse(
      new TextDecoder().decode(
        files.get(names.find((name) => name.endsWith('manifest.json')) ?? '')?.bytes(),
      ),
    );
    expect(manifest.lanes).toHaveLength(2);
    const saving = page.waitForEvent('download');
    await button('Save the project file').click();
    await (await saving).saveAs(projectFile());
    await page.keyboard.press('Escape');
  });

  it('is all there after a reload', async () => {
    await page.getByText('saved', { exact: true }).first().waitFor();
    const before = await page.getByRole('slider').first().getAttribute('aria-valuetext');
    await page.reload();
    await words().first().waitFor();
    expect(await page.getByRole('slider').first().getAttribute('aria-valuetext')).toBe(before);
    expect(await page.getByRole('textbox', { name: 'Name of the project' }).inputValue()).toBe(
      'Slack Water',
    );
    await button('flip A').click();
    await page.waitForFunction(() => document.querySelectorAll('.lane-word').length === 4);
  });

  it('does not let a second window write over the first', async () => {
    const second = await context.newPage();
    second.setDefaultTimeout(100_000);
    await second.goto(site.address);
    await second.locator('.sheet-words .slice').first().waitFor();
    await second.getByText('Another window has this project open').waitFor();
    const title = second.getByRole('textbox', { name: 'Name of the project' });
    await title.fill('Written over');
    await title.press('Enter');
    expect(await title.inputValue()).toBe('Slack Water');
    await second.close();
    await page.reload();
    await words().first().waitFor();
    expect(await page.getByRole('textbox', { name: 'Name of the project' }).inputValue()).toBe(
      'Slack Water',
    );
  });

  it('works without a network', async () => {
    await page.evaluate(async () => void (await navigator.serviceWorker.ready));
    await page.waitForFunction(async () => {
      const keys = await caches.keys();
      const all = await Promise.all(
        keys.map(async (key) => (await (await caches.open(key)).keys()).length),
      );
      return navigator.serviceWorker.controller !== null || all.some((count) => count >= 8);
    });
    await context.setOffline(true);
    site.close();
    await page.reload();
    await words().first().waitFor();
    await press(0);
    await untilHeard(page);
    await context.setOffline(false);
    site = await servePage();
  });

  it('opens the saved project in another browser', async () => {
    const other = await browser.newContext();
    const there = await other.newPage();
    there.setDefaultTimeout(100_000);
    await there.goto(site.address);
    const choosing = there.waitForEvent('filechooser');
    await there.getByRole('button', { name: 'open one' }).click();
    await (await choosing).setFiles(projectFile());
    await there.locator('.sheet-words .slice').first().waitFor();
    await there.getByRole('button', { name: 'flip A', exact: true }).click();
    await there.waitForFunction(() => document.querySelectorAll('.lane-word').length === 4);
    await other.close();
  });

  it('said nothing that is an error', () => {
    expect(errors).toEqual([]);
  });
});
