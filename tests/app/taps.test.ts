import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, it } from 'vitest';
import { freeTimes } from '../engine/plucks.ts';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/**
 * MIDI and the latency of taps. The keyboard is made of messages as MIDI 1.0 has them (Detailed
 * Specification, channel voice messages), handed to the page by a stand-in for `requestMIDIAccess` (Web
 * MIDI API, W3C) with the time stamps that the test wants.
 */
const built = useBuiltPage();
let page: Page;
let errors: string[];

const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });

/** Stands for a keyboard, and notes when what begins to sound. */
function instruments() {
  const input = {
    name: 'Two octaves',
    state: 'connected',
    onmidimessage: null as ((event: unknown) => void) | null,
  };
  Object.assign(navigator, {
    requestMIDIAccess: async () => ({ inputs: new Map([['1', input]]), onstatechange: null }),
  });
  const contexts: AudioContext[] = [];
  const starts: { when: number; offset: number; seconds: number }[] = [];
  const Native = window.AudioContext;
  window.AudioContext = class extends Native {
    constructor(options?: AudioContextOptions) {
      super(options);
      contexts.push(this);
    }
  };
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when = 0, offset = 0, duration?: number) {
    starts.push({ when, offset, seconds: this.buffer?.duration ?? 0 });
    return duration === undefined
      ? start.call(this, when, offset)
      : start.call(this, when, offset, duration);
  };
  Object.assign(window, {
    started: starts,
    send: (bytes: number[], timeStamp = performance.now()) =>
      input.onmidimessage?.({ data: Uint8Array.from(bytes), timeStamp }),
    /** The moment of `performance.now()` at which a moment of the context's clock is heard. */
    heardAt: (time: number) => {
      const stamp = contexts.at(-1)?.getOutputTimestamp();
      return (stamp?.performanceTime ?? 0) + (time - (stamp?.contextTime ?? 0)) * 1000;
    },
  });
}

const send = (bytes: number[]) =>
  page.evaluate(
    (bytes) => (window as unknown as { send: (b: number[]) => void }).send(bytes),
    bytes,
  );

beforeAll(async () => {
  const prepare = (page: Page) => page.addInitScript(instruments);
  ({ page, errors } = await built.open({ prepare, files: shortTake() }));
  await page.locator('.sheet-words .slice').first().waitFor();
  await button('listening').first().click();
  await button('play the pads from MIDI').click();
  await page.getByText('MIDI from Two octaves.').waitFor();
  await button('close').click();
});
describe('a MIDI keyboard', () => {
  it('plays the pad that has learned its note, as loud as it is struck', async () => {
    await page.locator('.pad').nth(1).click();
    await button('listening').first().click();
    await button('learn a note for the chosen pad').click();
    await send([0x90, 60, 100]);
    await button('close').click();
    await button('Undo: learn a note').waitFor();
    await page.waitForFunction(() => !document.querySelector('.pad.sounds'));

    const struck = async (velocity: number) => {
      await page.waitForFunction(() => (window.ears?.hear().peak ?? 1) === 0);
      await send([0x93, 60, velocity]);
      // Listened to all along: the ears hold a third of a second.
      return page.evaluate(async () => {
        let most = 0;
        while (most === 0 || document.querySelector('.pad.sounds')) {
          most = Math.max(most, window.ears?.hear().peak ?? 0);
          await new Promise((turn) => setTimeout(turn, 5));
        }
        return most;
      });
    };
    const [loud, soft] = [await struck(127), await struck(64)];
    expect(loud).toBeGreaterThan(soft * 2);
    await send([0x80, 60, 0]);
    // A note that no pad has learned, and a message that is no note.
    await send([0x90, 61, 100]);
    await send([0xb0, 60, 100]);
    expect(await page.locator('.pad.sounds').count()).toBe(0);
  });
});

describe('the latency of taps', () => {
  it('is measured by tapping along with clicks', async () => {
    await button('listening').first().click();
    await page.evaluate('void started.splice(0)');
    await button('measure it').click();
    await button(/^tap here/).waitFor();
    // Clicks come every 0.6 s; each tap comes 130 ms late, and 10 ms more or less.
    await page.evaluate(() => {
      const { started, send, heardAt } = window as unknown as {
        started: { when: number }[];
        send: (bytes: number[], timeStamp: number) => void;
        heardAt: (time: number) => number;
      };
      const first = started[0]?.when ?? 0;
      [-10, 10, 0, 5, -5, 8, -8, 0].forEach((uneven, i) => {
        send([0x90, 50 + i, 90], heardAt(first + (i + 2) * 0.6) + 130 + uneven);
      });
    });
    await button('measure it').waitFor();
    const latency = page.getByRole('spinbutton', { name: 'latency of taps' });
    // The two clocks are read at different moments, a block of 128 frames apart at most: 3 ms.
    expect(Math.abs(Number(await latency.getAttribute('aria-valuenow')) - 130)).toBeLessThan(6);
    await page.reload();
    await page.locator('.sheet-words .slice').first().waitFor();
    await button('listening').first().click();
    expect(Math.abs(Number(await latency.getAttribute('aria-valuenow')) - 130)).toBeLessThan(6);
  });

  it('can be typed, and is measured on any key too', async () => {
    await button('measure it').click();
    await button(/^tap here with the clicks: 0/).waitFor();
    await page.keyboard.press('j');
    await page.keyboard.press('Space');
    await button(/^tap here with the clicks: 2/).waitFor();
    await page.keyboard.press('Escape');
    await page.getByRole('dialog').waitFor({ state: 'detached' });
    await button('listening').first().click();
    const latency = page.getByRole('spinbutton', { name: 'latency of taps' });
    await latency.fill('200 ms');
    await latency.press('Enter');
    await button('play the pads from MIDI').click();
    await page.getByText('MIDI from Two octaves.').waitFor();
    await button('close').click();
  });

  it('is taken off MIDI taps, which no pad answers', async () => {
    const onset = freeTimes(16)[5];
    await page.keyboard.press('Escape');
    await page.evaluate('void started.splice(0)');
    await button('tap the beat along').click();
    await page.getByText('any MIDI note').waitFor();
    await page.locator('.sheet .head-line.on').waitFor();
    const pads = await page.evaluate((onset) => {
      const { started, send, heardAt } = window as unknown as {
        started: { when: number; offset: number; seconds: number }[];
        send: (bytes: number[], timeStamp: number) => void;
        heardAt: (time: number) => number;
      };
      const take = started.find((one) => one.seconds > 5) ?? { when: 0, offset: 0 };
      const before = started.length;
      // The learned note, 200 ms after the moment at which this attack is heard.
      send([0x90, 60, 100], heardAt(take.when + onset - take.offset) + 200);
      return started.length - before;
    }, onset);
    expect(pads).toBe(0);
    await page.getByText('One beat so far').waitFor();
    await button('done').click();
    await button('Undo: tap beats').waitFor();
    const clock = `0:0${onset.toFixed(2)}`;
    const beat = page.getByRole('button', { name: new RegExp(`^Beat .* at ${clock}`) });
    await beat.focus();
    await page.getByText('is tapped by you').waitFor();
  });

  it('went without an error', () => {
    expect(errors).toEqual([]);
  });
});
