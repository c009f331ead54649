import type { Page } from 'playwright-core';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { useBuiltPage } from './built-page.ts';
import { capture, heardBetween, pressesSince } from './captured-sound.ts';

/**
 * What the built page puts out when its pads are played by keys, mouse and fingers, measured sample by sample.
 * The take is noise, bursts of it with rests between: no two stretches of noise are alike, so that where
 * in the take a sound comes from, and that nothing else sounds, is told by its samples alone.
 */
const rate = 44100;
/** One render quantum of Web Audio (W3C Web Audio API 1.1, "render quantum size"). */
const block = 128;
const built = useBuiltPage();

const bursts = [0.5, 1.1, 1.8, 2.4, 3.1, 3.7, 4.3, 5.0];
const samples = (() => {
  const random = makeRandom(5);
  const mix = new Float32Array(6 * rate);
  for (const at of bursts)
    for (let i = 0; i < 0.5 * rate; i++) {
      const value = 0.3 * Math.exp((-4 * i) / rate) * (2 * random() - 1);
      mix[Math.round(at * rate) + i] = Math.round(value * 32767) / 32768;
    }
  return mix;
})();
const take = () => ({
  name: 'Bursts.wav',
  mimeType: 'audio/wav',
  buffer: Buffer.from(writeWav({ sampleRate: rate, channels: [samples] }, { bits: '16' })),
});

let page: Page;
let errors: string[];

interface Filled {
  readonly place: string;
  readonly key: string;
  readonly from: number;
  readonly until: number;
}
let pads: Filled[];

/** Where in the take a stretch of what was heard comes from: the frame, and by how much it was multiplied. */
function sourceOf(heard: readonly number[], near: number, reach: number) {
  let best = { at: -1, gain: 0, rest: Number.POSITIVE_INFINITY };
  const power = heard.reduce((sum, x) => sum + x * x, 0);
  for (let at = near - reach; at <= near + reach; at++) {
    let dot = 0;
    let own = 0;
    for (let i = 0; i < heard.length; i++) {
      const x = samples[at + i] ?? 0;
      dot += x * heard[i];
      own += x * x;
    }
    const gain = own > 0 ? dot / own : 0;
    const rest = power > 0 ? (power - gain * dot) / power : 1;
    if (rest < best.rest) best = { at, gain, rest };
  }
  return best;
}

const first = (heard: readonly number[]) => heard.findIndex((x) => x !== 0);
/** A quarter of a second: longer than any rest inside a slice of several bursts. */
const silence = () =>
  page.waitForFunction(() => {
    const { captured } = window;
    const now = captured?.newest() ?? 0;
    return captured?.heard(now - 11025, now).every((x) => x === 0);
  });

beforeAll(async () => {
  const options = { hasTouch: true, bypassCSP: true };
  ({ page, errors } = await built.open({ ...options, prepare: capture, files: take() }));
  await page.locator('.sheet-words .slice').first().waitFor();
  // The first press wakes the sound.
  await page.keyboard.press('q');
  await page.waitForFunction(() => (window.captured?.newest() ?? 0) > 8192);
  const level = page.getByRole('spinbutton', { name: 'listening level' });
  await level.fill('0');
  await level.press('Enter');
  await page.keyboard.press('Escape');
  await silence();

  // Where each filled pad starts is read from its own sentence, not from the code.
  const full = page.locator('.pad:not(.none)');
  pads = [];
  for (let i = 0; i < Math.min(await full.count(), 4); i++) {
    const pad = full.nth(i);
    const label = (await pad.getAttribute('aria-label')) ?? '';
    const place = (await pad.getAttribute('data-pad')) ?? '';
    const word = page.getByRole('button', {
      name: new RegExp(`^${label.split(', ').slice(1).join(', ')},`, 'i'),
    });
    await word.focus();
    const figure = async (name: string) =>
      Number(
        await page.getByRole('spinbutton', { name, exact: true }).getAttribute('aria-valuenow'),
      );
    const landing = await figure('landing');
    const lead = (await figure('lead-in before the landing')) / 1000;
    const ring = await figure('how long it rings from its landing');
    pads.push({
      place,
      key: /^Pad (.),/.exec(label)?.[1]?.toLowerCase() ?? '',
      from: landing - lead,
      until: landing + ring,
    });
  }
  await page.keyboard.press('Escape');
});
afterAll(() => page.context().close());
beforeEach(async () => {
  await silence();
  await pressesSince(page);
});

/**
 * Presses and what was heard from the first of them on, until a quarter of a second after the page was done with the last
 * one, however long that took it.
 */
async function struck(act: () => Promise<void>) {
  await act();
  const presses = await pressesSince(page);
  const [press] = presses;
  const last = presses.at(-1);
  if (!press || !last) throw new Error('No press came in.');
  const heard = await heardBetween(page, press.frame, last.done + 0.25 * rate);
  return { heard, press, presses };
}
/** Keys that come down one right after the other, whatever the page takes for each, and then go up. */
const together = (...keys: readonly string[]) =>
  Promise.all(
    (['down', 'up'] as const).flatMap((way) => keys.map((key) => page.keyboard[way](key))),
  ).then(() => {});

/** The sentence tells a lead-in to the millisecond, so where a slice starts is known to half of one. */
const told = Math.ceil(0.0005 * rate) + 1;
/** Within the block after the event's own; the device may ask for several blocks in one burst. */
const soonest = (burst: number) => Math.ceil(burst / block) * block + block;
type Press = Awaited<ReturnType<typeof struck>>['press'];
/** A press sounds so many frames after it came in, at the latest. */
const latest = ({ frame, done, burst }: Press) => done - frame + soonest(burst) + told;

const chokeGroup = async (pad: Filled, group: string) => {
  await page.locator(`[data-pad="${pad.place}"]`).click();
  await page.getByRole('combobox', { name: 'choke group' }).selectOption(group);
  await page.keyboard.press('Escape');
  await silence();
  await pressesSince(page);
};

describe('a pad', () => {
  it.each(['key', 'mouse', 'finger'] as const)(
    'pressed by a %s sounds within one block, from its first sample, and nothing else does',
    async (by) => {
      const [pad] = pads;
      const box = await page.locator(`[data-pad="${pad.place}"]`).boundingBox();
      const x = (box?.x ?? 0) + 20;
      const y = (box?.y ?? 0) + 20;
      const { heard, press } = await struck(async () => {
        if (by === 'key') await page.keyboard.press(pad.key);
        else if (by === 'mouse') await page.mouse.click(x, y);
        else await page.touchscreen.tap(x, y);
      });
      const start = first(heard);
      expect(start).toBeGreaterThanOrEqual(0);
      // A lead-in may hold samples that are 0, so the start is told by where the take's samples lie.
      const after = heard.slice(start + 512, start + 2560);
      const source = sourceOf(after, Math.round(pad.from * rate) + 512, 4096);
      const began = start + 512 - (source.at - Math.round(pad.from * rate));
      expect(began).toBeGreaterThanOrEqual(-told);
      expect(began).toBeLessThanOrEqual(latest(press));
      // 16-bit samples at full listening level: what differs is rounding.
      expect(source.rest).toBeLessThan(1e-8);
      expect(source.gain).toBeCloseTo(1, 3);
    },
  );
});

describe('a chord', () => {
  it('of pads pressed together by several fingers sounds together, each pad from its own first sample', async () => {
    const three = pads.slice(0, 3);
    const boxes = await Promise.all(
      three.map((pad) => page.locator(`[data-pad="${pad.place}"]`).boundingBox()),
    );
    const session = await page.context().newCDPSession(page);
    const touch = (type: 'touchStart' | 'touchEnd') =>
      session.send('Input.dispatchTouchEvent', {
        type,
        touchPoints:
          type === 'touchEnd'
            ? []
            : boxes.map((box, id) => ({ x: (box?.x ?? 0) + 20, y: (box?.y ?? 0) + 20, id })),
      });
    const { heard, presses } = await struck(async () => {
      await touch('touchStart');
      await touch('touchEnd');
    });
    expect(presses).toHaveLength(3);
    const done = presses[2].done - presses[0].frame;
    // All three events came before one and the same block, or the one after it.
    const frames = presses.map((press) => press.frame);
    expect(Math.max(...frames) - Math.min(...frames)).toBeLessThanOrEqual(
      done + soonest(presses[0].burst),
    );
    // Told apart one after the other: what is left when the clearest is taken away holds the next.
    const all = Math.max(1536, done + 2 * soonest(presses[0].burst) + told);
    const together = heard.slice(all, all + 2048);
    let left = together;
    const began: number[] = [];
    for (const pad of three) {
      const near = Math.round(pad.from * rate) + all;
      const source = sourceOf(left, near, all + 512);
      began.push(near - source.at);
      left = left.map((x, i) => x - (samples[source.at + i] ?? 0));
    }
    const power = (list: readonly number[]) => list.reduce((sum, x) => sum + x * x, 0);
    expect(power(left)).toBeLessThan(1e-6 * power(together));
    expect(Math.max(...began) - Math.min(...began)).toBeLessThanOrEqual(
      done + soonest(presses[0].burst),
    );
    for (const at of began) {
      expect(at).toBeGreaterThanOrEqual(-told);
      expect(at).toBeLessThanOrEqual(done + 2 * soonest(presses[0].burst) + told);
    }
  });
});

describe('a choke group', () => {
  it('lets its second pad silence the first within the fade, and leaves other pads alone', async () => {
    const [one, two, other] = pads;
    await chokeGroup(one, 'A');
    await chokeGroup(two, 'A');
    const { heard, presses } = await struck(() => together(one.key, other.key, two.key));
    expect(presses).toHaveLength(3);
    // 5 ms of fade: from there the two others sound, and nothing else.
    const over = presses[2].frame - presses[0].frame + latest(presses[2]) + Math.ceil(0.005 * rate);
    const length = 2048;
    let left = heard.slice(over, over + length);
    for (const [pad, press] of [
      [other, presses[1]],
      [two, presses[2]],
    ] as const) {
      const near = Math.round(pad.from * rate) + over - (press.frame - presses[0].frame);
      const source = sourceOf(left, near, latest(press));
      left = left.map((x, i) => x - (samples[source.at + i] ?? 0));
    }
    const power = (list: readonly number[]) => list.reduce((sum, x) => sum + x * x, 0);
    expect(power(left)).toBeLessThan(1e-6 * power(heard.slice(over, over + length)));
    // The first one would have sounded on: its slice is longer than that.
    expect((one.until - one.from) * rate).toBeGreaterThan(over + length);
    await chokeGroup(one, '');
    await chokeGroup(two, '');
  });

  it('is the only thing that silences: without it the first pad sounds on', async () => {
    const [one, two] = pads;
    const { heard, presses } = await struck(() => together(one.key, two.key));
    expect(presses).toHaveLength(2);
    const over = presses[1].frame - presses[0].frame + latest(presses[1]);
    const part = heard.slice(over, over + 2048);
    const near = Math.round(one.from * rate) + over;
    const source = sourceOf(part, near, latest(presses[0]));
    expect(source.gain).toBeCloseTo(1, 0);
  });
});

it('went without an error', () => {
  expect(errors).toEqual([]);
});
