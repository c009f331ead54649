/**
 * `npm run bench page`: the built page with a ten-minute stereo take: frames while scrolling, zooming and
 * playing, interaction to next paint of common actions, press to sound, size of the first load. Software
 * rendering on a busy machine is slow, so figures are of this machine, now.
 */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { gzipSync } from 'node:zlib';
import type { Page } from 'playwright-core';
import { makeRandom } from '../../shared/math/random.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { openBrowser, openPage, servePage } from '../app/browser.ts';

const rate = 44100;
const minutes = 10;

/** Plucked notes at a wandering tempo with a rest now and then: enough for hearing to find lines and beats. */
function longTake(): Uint8Array {
  const random = makeRandom(11);
  const length = minutes * 60 * rate;
  const channels = [new Float32Array(length), new Float32Array(length)];
  let at = 0.5;
  let note = 0;
  while (at < minutes * 60 - 2) {
    const pitch = 110 * 2 ** ([0, 3, 5, 7, 10, 12, 15][note % 7] / 12);
    const level = 0.1 + 0.3 * random();
    const start = Math.round(at * rate);
    for (let i = 0; i < rate * 0.9 && start + i < length; i++) {
      const t = i / rate;
      const v =
        level * Math.exp(-4 * t) * Math.sin(2 * Math.PI * pitch * t + 2 * Math.exp(-30 * t));
      channels[0][start + i] += v;
      channels[1][start + i] += v * 0.7;
    }
    note += 1;
    at +=
      (0.45 + 0.08 * Math.sin(at / 9)) * (random() < 0.2 ? 0.5 : 1) + (note % 24 === 0 ? 1.6 : 0);
  }
  return writeWav({ sampleRate: rate, channels }, { bits: '16' });
}

/** Notes the length of every frame and of every interaction. */
const watch = `
  globalThis.framesSeen = []; globalThis.eventsSeen = [];
  let last = performance.now();
  requestAnimationFrame(function frame(now) {
    framesSeen.push(now - last); last = now; requestAnimationFrame(frame);
  });
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries())
      if (entry.interactionId) eventsSeen.push({ name: entry.name, ms: entry.duration });
  }).observe({ type: 'event', durationThreshold: 16, buffered: true });`;

async function frames(page: Page, what: string, act: () => Promise<void>): Promise<void> {
  await page.evaluate('void framesSeen.splice(0)');
  await act();
  const all = ((await page.evaluate('framesSeen.splice(0)')) as number[]).sort((a, b) => a - b);
  const at = (share: number) => (all[Math.floor((all.length - 1) * share)] ?? 0).toFixed(1);
  console.log(
    `${what.padEnd(28)} ${at(0.5).padStart(8)} ${at(0.95).padStart(8)} ${at(1).padStart(8)}`,
  );
}

/** Longest event of an interaction, to the frame that shows it (web.dev, Interaction to Next Paint). */
async function interaction(page: Page, what: string, act: () => Promise<void>): Promise<void> {
  const each: number[] = [];
  for (let i = 0; i < 5; i++) {
    await page.evaluate('void eventsSeen.splice(0)');
    await act();
    await page.waitForTimeout(350);
    const seen = (await page.evaluate('eventsSeen.splice(0)')) as { ms: number }[];
    each.push(Math.max(0, ...seen.map((one) => one.ms)));
  }
  each.sort((a, b) => a - b);
  const text = (ms: number) => (ms === 0 ? 'under 16' : ms.toFixed(0)).padStart(8);
  console.log(`${what.padEnd(28)} ${text(each[2] ?? 0)} ${text(each[4] ?? 0)}`);
}

const assets = resolve('dist/page/assets');
const html = readFileSync(resolve('dist/page/index.html'), 'utf8');
const first = readdirSync(assets).filter((name) => name.endsWith('.js') && html.includes(name));
const bytes = first.reduce(
  (sum, name) => sum + gzipSync(readFileSync(join(assets, name))).length,
  0,
);
console.log(`JavaScript of the first load: ${(bytes / 1000).toFixed(1)} kB gzip (goal: under 120)`);

const site = await servePage();
const browser = await openBrowser();
const { page } = await openPage(browser, site.address);
page.setDefaultTimeout(120_000);
await page.getByRole('button', { name: 'open one' }).waitFor();
await page.waitForFunction('navigator.serviceWorker.ready.then(() => true)');
await page.reload();
await page.getByRole('button', { name: 'open one' }).waitFor();
const ready = await page.evaluate('performance.getEntriesByType("navigation")[0].domInteractive');
const painted = await page.evaluate(
  'performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? 0',
);
console.log(
  `From the service worker: interactive after ${Number(ready).toFixed(0)} ms, painted after ${Number(painted).toFixed(0)} ms`,
);

const folder = mkdtempSync(join(tmpdir(), 'page-bench-'));
const file = join(folder, 'ten minutes.wav');
writeFileSync(file, longTake());
const started = Date.now();
const [chooser] = await Promise.all([
  page.waitForEvent('filechooser'),
  page.getByRole('button', { name: 'open one' }).click(),
]);
await chooser.setFiles(file);
await page.locator('.sheet-words .slice').first().waitFor();
console.log(`Ten minutes opened and heard in ${((Date.now() - started) / 1000).toFixed(1)} s`);
await page.evaluate(watch);

console.log(`\n${'frames, ms'.padEnd(28)}   median     95 %  longest   (goal: 95 % under 16.7)`);
const sheet = await page.locator('.sheet-scroll').boundingBox();
await page.mouse.move((sheet?.x ?? 0) + 300, (sheet?.y ?? 0) + 100);
await frames(page, 'scrolling the sheet', async () => {
  for (let i = 0; i < 60; i++) {
    await page.mouse.wheel(0, 80);
    await page.waitForTimeout(16);
  }
});
await frames(page, 'setting lines closer, wider', async () => {
  await page.keyboard.down('Control');
  for (let i = 0; i < 40; i++) {
    await page.mouse.wheel(0, i < 20 ? 50 : -50);
    await page.waitForTimeout(16);
  }
  await page.keyboard.up('Control');
});
await frames(page, 'dragging the frame', async () => {
  const frame = await page.locator('.strip-frame').boundingBox();
  const y = (frame?.y ?? 0) + 20;
  await page.mouse.move((frame?.x ?? 0) + 4, y);
  await page.mouse.down();
  for (let i = 0; i < 60; i++) {
    await page.mouse.move((frame?.x ?? 0) + i * 12, y);
    await page.waitForTimeout(16);
  }
  await page.mouse.up();
});
await page.getByRole('button', { name: 'take', exact: true }).click();
await page.locator('.head-line.on').first().waitFor();
await page.waitForTimeout(1000);
await frames(page, 'playing the take', () => page.waitForTimeout(3000));
await page.keyboard.press('Space');

console.log(`\n${'to the next paint, ms'.padEnd(28)}   median  longest   (goal: under 100)`);
await page.getByRole('scrollbar', { name: 'Lines in view' }).press('Home');
const word = page.locator('.sheet-words .slice').nth(1);
await interaction(page, 'press a word', () => word.click());
await interaction(page, 'next word by key', () => page.keyboard.press('ArrowRight'));
await interaction(page, 'play a pad by key', () => page.keyboard.press('q'));
await interaction(page, 'press a pad', () => page.locator('.pad').nth(1).click());
await interaction(page, 'split', async () => {
  await word.focus();
  await page.keyboard.press('Shift+S');
});
await interaction(page, 'undo', () => page.keyboard.press('Control+z'));
await interaction(page, 'choose a line', () =>
  page.getByRole('button', { name: 'Line 1', exact: true }).click(),
);
await page.getByRole('button', { name: 'make a straight loop' }).click();
await page.getByRole('spinbutton', { name: 'tempo' }).focus();
await interaction(page, 'step the tempo', () => page.keyboard.press('ArrowUp'));
await page.keyboard.press('Escape');
await interaction(page, 'set a slice on the lane', async () => {
  await word.focus();
  await page.keyboard.press('Shift+N');
});
await interaction(page, 'fewer or more cuts', () =>
  page.getByRole('slider', { name: 'Fewer or more cuts' }).press('ArrowRight'),
);
await browser.close();
site.close();
rmSync(folder, { recursive: true });
