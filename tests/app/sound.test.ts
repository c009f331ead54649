import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import type { Browser, Page } from 'playwright-core';
import { build } from 'vite';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { openBrowser, openPage, serveFolder } from './browser.ts';
import type {} from './sound-page/main.ts';

const here = fileURLToPath(new URL('.', import.meta.url));
const built = join(here, '../../node_modules/.cache/unclicked/sound-page');
const rate = 44100;
/** One render quantum of Web Audio (W3C Web Audio API 1.1, "render quantum size"). */
const block = 128;

let browser: Browser;
let site: { address: string; close: () => void };
let page: Page;
let errors: string[];

beforeAll(async () => {
  await build({
    root: join(here, 'sound-page'),
    base: './',
    logLevel: 'error',
    configFile: false,
    build: { outDir: built, emptyOutDir: true, target: 'es2022' },
  });
  browser = await openBrowser();
  site = await serveFolder(built);
  ({ page, errors } = await openPage(browser, site.address));
  await ready();
});
afterAll(async () => {
  await browser?.close();
  site?.close();
});

/** Gives the page a take of 4 s whose every sample is its own number, so that what is heard says where it came from. */
const giveTake = () =>
  page.evaluate((rate) => {
    const length = 4 * rate;
    const mix = {
      sampleRate: rate,
      channels: [Float32Array.from({ length }, (_, i) => (i + 1) / 2 ** 19)],
    };
    const stems = ['a', 'b'].map((hash, k) => ({
      hash,
      audio: {
        sampleRate: rate,
        channels: [new Float32Array(length).fill(k === 0 ? 0.25 : 0.125)],
      },
    }));
    window.bench.sound.setTake({ mix, stems });
  }, rate);

async function ready() {
  await page.waitForFunction(() => window.bench);
  await giveTake();
  await page.evaluate(async () => {
    const { sound, record } = window.bench;
    sound.setLevel(0);
    await sound.wake();
    await record();
  });
  await page.waitForFunction(() => window.bench.newest() > 8192);
}

beforeEach(async () => {
  const quietFrom = await page.evaluate(() => {
    const { sound, frame } = window.bench;
    sound.stop();
    sound.setLoop(null);
    sound.setStems([], []);
    sound.setPlainBeat({ kick: false, hat: false, click: false });
    return frame() + 4096;
  });
  await page.waitForFunction((from) => window.bench.newest() > from, quietFrom);
});
afterEach(() => expect(errors).toEqual([]));

/** Waits until everything up to a frame was put out, and returns what it was from `from` on. */
async function heard(from: number, until: number): Promise<number[]> {
  await page.waitForFunction((until) => window.bench.newest() > until, until);
  return page.evaluate(([from, until]) => window.bench.heard(from, until), [from, until] as const);
}

/** A source that starts a rounding beside its sample lets 1e-11 of the next one through in its place; nothing meant is so soft. */
const dust = 1e-9;
const firstSound = (samples: readonly number[]) => samples.findIndex((x) => Math.abs(x) > dust);
/** Which sample of the take this is. */
const numberOf = (x: number) => x * 2 ** 19 - 1;

const pad = {
  row: 0,
  key: 0,
  slice: 's1',
  semitones: 0,
  cents: 0,
  level: 0,
  direction: 'forwards',
  play: 'through',
  choke: null,
  note: null,
} as const;

/** The frames from an event until what it sets off sounds: the device asks for several blocks in one burst; what comes during one is in the next. */
const soonest = () =>
  page.evaluate((block) => {
    const context = window.bench.context();
    const burst = (context?.baseLatency ?? 0) * (context?.sampleRate ?? 0);
    return Math.ceil(burst / block) * block + block;
  }, block);

describe('pads', () => {
  it('sound in the very next block, from the slice’s own first sample', async () => {
    const { before, after } = await page.evaluate((pad) => {
      const { frame, sound } = window.bench;
      const before = frame();
      sound.pressPad(pad, { start: 1, landing: 1, end: 2 });
      return { before, after: frame() };
    }, pad);
    const samples = await heard(before, after + 8192);
    const first = firstSound(samples);
    expect(first).toBeGreaterThanOrEqual(0);
    expect(first).toBeLessThanOrEqual(after - before + (await soonest()));
    expect(numberOf(samples[first] ?? 0)).toBe(rate);
    expect(numberOf(samples[first + 1000] ?? 0)).toBe(rate + 1000);
  });

  /** Presses two pads in one turn of the page's work, which is some blocks of sound late with every source. */
  const strikeTwo = () =>
    page.evaluate((pad) => {
      const { frame, sound } = window.bench;
      const { start } = AudioBufferSourceNode.prototype;
      AudioBufferSourceNode.prototype.start = function (...how) {
        start.apply(this, how);
        const slow = performance.now() + 30;
        while (performance.now() < slow);
      };
      const pressed = frame();
      sound.pressPad(pad, { start: 1, landing: 1, end: 2 });
      sound.pressPad({ ...pad, key: 1 }, { start: 0.5, landing: 0.5, end: 2 });
      AudioBufferSourceNode.prototype.start = start;
      return { pressed, until: frame() + 8192 };
    }, pad);

  it('sound together to the sample when struck together, however slow the page is between', async () => {
    const { pressed, until } = await strikeTwo();
    const samples = await heard(pressed, until);
    const first = firstSound(samples);
    // Two numbers added: both began at the same sample.
    expect((samples[first] ?? 0) * 2 ** 19 - 2).toBe(rate + rate / 2);
  });

  it('let all stems of a slice begin on one sample, however slow the page is between', async () => {
    await page.evaluate(() => window.bench.sound.setStems([], ['a', 'b']));
    const { pressed, until } = await strikeTwo();
    const samples = await heard(pressed, until);
    const first = firstSound(samples);
    // Two slices of two stems, of 0.25 and 0.125.
    expect(samples[first]).toBe(0.75);
  });

  it('keep their fades where their samples are, however late they begin', async () => {
    const { pressed, until } = await page.evaluate((pad) => {
      const { frame, sound } = window.bench;
      const pressed = frame();
      const slice = { start: 1, landing: 1.1, end: 1.2, fadeIn: 0.01, fadeOut: 0.02 };
      sound.pressPad(pad, slice);
      const slow = performance.now() + 30;
      while (performance.now() < slow);
      return { pressed, until: frame() + 12000 };
    }, pad);
    const samples = await heard(pressed, until);
    // The sample before the first one heard is the slice's own first, faded to nothing.
    const begun = firstSound(samples) - 1;
    const at = (i: number) => (samples[begun + i] ?? 0) * 2 ** 19;
    expect(at(1)).toBeCloseTo((rate + 2) / 441, 3);
    expect(at(220)).toBeCloseTo(((rate + 221) * 220) / 441, 0);
    expect(at(441)).toBe(rate + 442);
    expect(at(8820 - 883)).toBe(rate + 8820 - 882);
    expect(at(8820 - 441)).toBeCloseTo(((rate + 8380) * 440) / 882, 0);
    expect(samples.slice(begun + 8819).every((x) => x === 0)).toBe(true);
  });

  it('fade in where the slice lands on no attack, and keep an attack as it is', async () => {
    const strike = (landing: number) =>
      page.evaluate(
        ([pad, landing]) => {
          const { sound, frame } = window.bench;
          sound.setOnsets([{ time: 1, strength: 1 }]);
          const pressed = frame();
          sound.pressPad(pad, { start: landing, landing, end: landing + 0.1 });
          sound.setOnsets([]);
          return { pressed, until: frame() + 8192 };
        },
        [pad, landing] as const,
      );
    const numbers = async ({ pressed, until }: { pressed: number; until: number }) => {
      const samples = await heard(pressed, until);
      return samples.slice(firstSound(samples)).map((x) => x * 2 ** 19);
    };
    const attack = await numbers(await strike(1));
    expect(attack[0]).toBe(rate + 1);
    const middle = await numbers(await strike(1.5));
    // 5 ms from nothing, of which the very first sample is not seen.
    expect(middle[0]).toBeCloseTo((1.5 * rate + 2) / 221, 0);
    expect(middle[221]).toBe(1.5 * rate + 223);
  });

  it('cut each other off within a choke group, and leave others alone', async () => {
    const struck = await page.evaluate(async (pad) => {
      const { sound, frame } = window.bench;
      const long = { start: 0, landing: 0, end: 4 };
      sound.pressPad({ ...pad, choke: 'A' }, long);
      const began = frame();
      while (frame() < began + 4096) await new Promise((turn) => setTimeout(turn, 1));
      sound.pressPad({ ...pad, key: 1, choke: 'A' }, { start: 3, landing: 3, end: 4 });
      const at = frame();
      // It is shown in a task of its own; timers run in order.
      await new Promise((turn) => setTimeout(turn));
      return { began, at, sounding: sound.sounding().pads };
    }, pad);
    const samples = await heard(struck.began, struck.at + 4096);
    // 5 ms after the second strike is heard only the second one sounds.
    const later = struck.at - struck.began + (await soonest()) + Math.ceil(0.005 * rate);
    const alone = numberOf(samples[later + 50] ?? 0);
    expect(alone).toBeGreaterThan(3 * rate);
    expect(alone).toBeLessThan(3 * rate + later);
    expect(numberOf(samples[later + 51] ?? 0) - alone).toBe(1);
    expect(struck.sounding).toEqual([{ row: 0, key: 1 }]);
  });

  it('leave no rest between what is cut off and what cuts it off, however slow the page is', async () => {
    const struck = await page.evaluate(async (pad) => {
      const { sound, frame, holdUp } = window.bench;
      sound.pressPad({ ...pad, choke: 'A' }, { start: 1, landing: 1, end: 4 });
      const began = frame();
      while (frame() < began + 8192) await new Promise((turn) => setTimeout(turn, 1));
      holdUp(60);
      const pressed = frame();
      sound.pressPad({ ...pad, key: 1, choke: 'A' }, { start: 3, landing: 3.01, end: 4 });
      return { pressed, done: frame() };
    }, pad);
    const samples = await heard(struck.pressed - 1024, struck.done + 8192);
    expect(Math.min(...samples)).toBeGreaterThan(rate / 2 ** 19 / 2);
    // Neither a click: what goes and what comes are moved by no more than a fade does.
    const steps = samples.slice(1).map((x, i) => Math.abs(x - (samples[i] ?? 0)));
    expect(Math.max(...steps)).toBeLessThan((3 * rate) / 2 ** 19 / 30);
    expect(numberOf(samples[samples.length - 1] ?? 0)).toBeGreaterThan(3 * rate);
  });

  it('play nothing that was rendered for another slice or another pitch', async () => {
    const at = await page.evaluate(
      ([pad, rate]) => {
        const { sound, frame } = window.bench;
        const mix = { sampleRate: rate, channels: [new Float32Array(rate).fill(0.5)] };
        const lower = { ...pad, semitones: -12 };
        sound.setPadSound(lower, { start: 1, landing: 1, end: 2 }, { mix, stems: [] });
        // Another slice has come to it, before its own sound is there.
        sound.pressPad(lower, { start: 2, landing: 2, end: 3 });
        return frame();
      },
      [pad, rate] as const,
    );
    const samples = await heard(at, at + 8192);
    const first = firstSound(samples);
    // An octave lower by half the speed: two samples for each of the take's.
    expect(numberOf(samples[first + 2000] ?? 0)).toBeCloseTo(2 * rate + 1000, -1);
  });

  it('held ones stop when let go, and say when they sound', async () => {
    const frames = await page.evaluate(async (pad) => {
      const { sound, frame } = window.bench;
      sound.pressPad({ ...pad, play: 'held' }, { start: 0, landing: 0, end: 4 });
      const began = frame();
      while (frame() < began + 4096) await new Promise((turn) => setTimeout(turn, 1));
      sound.releasePad(pad);
      return { began, released: frame() };
    }, pad);
    const samples = await heard(frames.began, frames.released + 4096);
    const over = frames.released - frames.began + (await soonest()) + Math.ceil(0.03 * rate);
    expect(samples[frames.released - frames.began - 500]).not.toBe(0);
    expect(samples.slice(over).every((x) => x === 0)).toBe(true);
    expect(await page.evaluate(() => window.bench.sound.sounding())).toEqual({
      slices: [],
      pads: [],
    });
  });

  it('play backwards from the slice’s last sample, and again and again while pressed', async () => {
    const pressed = await page.evaluate((pad) => {
      const frame = window.bench.frame();
      window.bench.sound.pressPad(
        { ...pad, direction: 'backwards', play: 'repeats' },
        { start: 1, landing: 1, end: 1.1 },
      );
      return frame;
    }, pad);
    const samples = await heard(pressed, pressed + 3 * 4410 + 2048);
    const first = firstSound(samples);
    // The very first sample is faded to nothing, so the first one heard is the second.
    const at = numberOf(samples[first + 1000] ?? 0);
    expect(at).toBe(rate + 4410 - 1 - 1001);
    const again = numberOf(samples[first + 1000 + 2 * 4410] ?? 0);
    expect(again).toBe(at);
  });

  it('are as loud as level and velocity say', async () => {
    const pressed = await page.evaluate((pad) => {
      const frame = window.bench.frame();
      window.bench.sound.pressPad({ ...pad, level: -6 }, { start: 1, landing: 1, end: 2 }, 0.5);
      return frame;
    }, pad);
    const samples = await heard(pressed, pressed + 1024);
    const first = firstSound(samples);
    const expected = ((rate + 1) / 2 ** 19) * 10 ** (-6 / 20) * 0.25;
    expect(samples[first]).toBeCloseTo(expected, 6);
  });
});

describe('the take', () => {
  it('plays a stretch round and round, and says where it is', async () => {
    const frames = await page.evaluate(async () => {
      const { sound, frame } = window.bench;
      const before = frame();
      await sound.playTake({ from: 1, until: 1.25, round: true });
      return before;
    });
    const samples = await heard(frames, frames + 2 * 11025 + 4096);
    const first = firstSound(samples);
    // Past the first 8 ms, which are faded in.
    const at = first + 1000;
    expect(numberOf(samples[at + 11025] ?? 0)).toBe(numberOf(samples[at] ?? 0));
    expect(numberOf(samples[at + 1] ?? 0)).toBe(numberOf(samples[at] ?? 0) + 1);
    const time = await page.evaluate(() => window.bench.sound.takeTime());
    expect(time).toBeGreaterThanOrEqual(1);
    expect(time).toBeLessThan(1.25);
  });

  it('lets stems be heard alone while it plays, in time to the sample', async () => {
    const frames = await page.evaluate(async () => {
      const { sound, frame } = window.bench;
      await sound.playTake({ from: 0 });
      const began = frame();
      while (frame() < began + 4096) await new Promise((turn) => setTimeout(turn, 1));
      sound.setStems([], ['b']);
      return frame();
    });
    const samples = await heard(frames + 4096, frames + 8192);
    expect(samples.every((x) => Math.abs(x - 0.125) < 1e-6)).toBe(true);
    await page.evaluate(() => window.bench.sound.setStems(['b'], []));
    const next = await page.evaluate(() => window.bench.frame());
    const other = await heard(next + 4096, next + 8192);
    expect(other.every((x) => Math.abs(x - 0.25) < 1e-6)).toBe(true);
  });

  it('lets a stem that joins late fall in to the sample, when the page is held up just then, too', async () => {
    const frames = await page.evaluate(async (rate) => {
      const { sound, frame } = window.bench;
      const numbers = Float32Array.from({ length: 4 * rate }, (_, i) => (i + 1) / 2 ** 19);
      const silent = new Float32Array(4 * rate);
      const part = (hash: string, samples: Float32Array) => ({
        hash,
        audio: { sampleRate: rate, channels: [samples] },
      });
      sound.setTake({
        mix: { sampleRate: rate, channels: [silent] },
        stems: [
          part('a', numbers),
          part(
            'turned',
            numbers.map((x) => -x),
          ),
        ],
      });
      sound.setStems([], ['a']);
      await sound.playTake({ from: 0 });
      const began = frame();
      while (frame() < began + 8192) await new Promise((turn) => setTimeout(turn, 1));
      window.bench.holdUp(60);
      const alone = frame();
      sound.setStems([], ['a', 'turned']);
      return { alone, both: frame() + 8192 };
    }, rate);
    const samples = await heard(frames.alone, frames.both + 4096);
    expect(samples[0]).toBeGreaterThan(0);
    // One is the other turned over: together they are nothing, if they run together.
    expect(samples.slice(-4096).every((x) => x === 0)).toBe(true);
    await page.evaluate(() => window.bench.sound.stop());
    await giveTake();
  });

  it('ends by itself', async () => {
    await page.evaluate(() => window.bench.sound.playTake({ from: 3.9 }));
    await page.waitForFunction(() => window.bench.sound.playing() === 'nothing');
    expect(await page.evaluate(() => window.bench.sound.takeTime())).toBeNull();
  });
});

const emptyFlip = {
  id: 'l1',
  name: 'flip A',
  bars: 1,
  beatsPerBar: 4,
  beatUnit: 4,
  bpm: 300,
  steady: 100,
  tighten: 0,
  grid: '16',
  swing: 50,
  source: { kind: 'flip', placements: [] },
} as const;

/** A loop of one bar, 4 beats at 300 bpm: 0.8 s, 35280 samples, each its own number. */
const giveLoop = (loudness: number, original: number) =>
  page.evaluate(
    ([lane, rate, loudness, original]) => {
      const length = 0.8 * rate;
      const samples = Float32Array.from({ length }, (_, i) => (i + 1) / 2 ** 19);
      window.bench.sound.setLoop({
        lane,
        mix: { sampleRate: rate, channels: [samples] },
        stems: [],
        loudness,
        original: { from: 1, until: 2, loudness: original },
      });
    },
    [emptyFlip, rate, loudness, original] as const,
  );

describe('the loop', () => {
  it('falls silent where there is none any more, unless another is awaited', async () => {
    await giveLoop(-20, -20);
    const awaited = await page.evaluate(async () => {
      const { sound } = window.bench;
      await sound.playLoop();
      sound.setLoop(null, true);
      return sound.playing();
    });
    expect(awaited).toBe('loop');
    const frame = await page.evaluate(() => {
      const { sound, frame } = window.bench;
      sound.setLoop(null);
      return frame();
    });
    expect(await page.evaluate(() => window.bench.sound.playing())).toBe('nothing');
    const samples = await heard(frame + 2048, frame + 4096);
    expect(firstSound(samples)).toBe(-1);
  });

  it('goes round exactly to the sample', async () => {
    await giveLoop(-20, -20);
    const start = await page.evaluate(async () => {
      const before = window.bench.frame();
      await window.bench.sound.playLoop();
      return before;
    });
    const samples = await heard(start, start + 3 * 35280 + 4096);
    const first = firstSound(samples);
    const numbers = samples.slice(first, first + 3 * 35280).map(numberOf);
    const wrong = numbers.findIndex((n, i) => n !== i % 35280);
    expect(wrong).toBe(-1);
  });

  it('begins at its beginning, with the plain beat under it, however busy the page is just then', async () => {
    await giveLoop(-20, -20);
    const start = await page.evaluate(async () => {
      const { sound, frame } = window.bench;
      sound.setPlainBeat({ kick: false, hat: false, click: true });
      window.bench.holdUp(60);
      const before = frame();
      await sound.playLoop();
      return before;
    });
    const samples = await heard(start, start + 35280);
    // The loop's own numbers, and the first click of the beat on top of them.
    const first = firstSound(samples);
    const rest = samples.slice(first, first + 17640).map((x, i) => x - (i + 1) / 2 ** 19);
    expect(Math.max(...rest.slice(0, 441).map(Math.abs))).toBeGreaterThan(0.01);
    expect(Math.max(...rest.slice(7000, 8700).map(Math.abs))).toBeLessThan(1e-6);
  });

  it('is exchanged in place for a newer one without a gap', async () => {
    await giveLoop(-20, -20);
    const start = await page.evaluate(async () => {
      const { sound, frame } = window.bench;
      const began = frame();
      await sound.playLoop();
      while (frame() < began + 8192) await new Promise((turn) => setTimeout(turn, 1));
      return began;
    });
    // Often, since a moment may lie on either side of its sample by rounding.
    let until = start;
    for (let i = 0; i < 8; i++) {
      await giveLoop(-20, -20);
      until = (await page.evaluate(() => window.bench.frame())) + 8192;
      await page.waitForFunction((until) => window.bench.newest() > until, until);
    }
    const samples = await heard(start, until);
    const first = firstSound(samples);
    const far = samples.slice(first).map((x, i) => Math.abs(numberOf(x) - (i % 35280)));
    // The same loop again: through the exchanges themselves not one sample is off by more than rounding.
    expect(far.findIndex((x) => x >= 2)).toBe(-1);
  });

  it('says where it is all the while newer ones take over, at the same beat in another tempo', async () => {
    await giveLoop(-20, -20);
    const seen = await page.evaluate(
      async ([lane, rate]) => {
        const { sound, frame } = window.bench;
        await sound.playLoop();
        while (sound.loopTime() === null) await new Promise((turn) => setTimeout(turn, 1));
        const seen: { beat: number | null; at: number }[] = [];
        const look = async (beatsASecond: number) => {
          const until = frame() + 3000;
          while (frame() < until) {
            const time = sound.loopTime();
            seen.push({ beat: time === null ? null : time * beatsASecond, at: frame() / rate });
            await new Promise((turn) => setTimeout(turn, 1));
          }
        };
        await look(5);
        // The second comes before the first has taken over.
        for (const bpm of [150, 240, 200]) {
          const mix = { sampleRate: rate, channels: [new Float32Array((240 / bpm) * rate)] };
          const original = { loudness: -20 };
          sound.setLoop({ lane: { ...lane, bpm }, mix, stems: [], loudness: -20, original });
          await look(bpm / 60);
        }
        return seen;
      },
      [emptyFlip, rate] as const,
    );
    expect(seen.length).toBeGreaterThan(8);
    expect(seen.filter(({ beat }) => beat === null)).toEqual([]);
    seen.slice(1).forEach(({ beat, at }, i) => {
      const last = seen[i] ?? { beat: 0, at: 0 };
      // Round the loop's end it is four beats less; a block is a hundredth of a beat or two.
      const step = ((Number(beat) - Number(last.beat) + 4.1) % 4) - 0.1;
      expect(step).toBeLessThan(5 * (at - last.at) + 0.1);
    });
  });

  it('is compared with the original at matched loudness', async () => {
    await giveLoop(-14, -20);
    await page.evaluate(() => window.bench.sound.compare('loop'));
    expect(await page.evaluate(() => window.bench.sound.matched())).toEqual({
      original: -20,
      loop: -14,
      originalBy: 0,
      loopBy: -6,
    });
    const frame = await page.evaluate(() => window.bench.frame());
    const loop = await heard(frame + 2048, frame + 2050);
    const step = ((loop[1] ?? 0) - (loop[0] ?? 0)) * 2 ** 19;
    expect(step).toBeCloseTo(10 ** (-6 / 20), 2);
    await page.evaluate(() => window.bench.sound.compare());
    expect(await page.evaluate(() => window.bench.sound.side())).toBe('original');
    const next = await page.evaluate(() => window.bench.frame());
    const original = await heard(next + 4096, next + 4098);
    const number = numberOf(original[0] ?? 0);
    expect(number).toBeGreaterThanOrEqual(rate);
    expect(number).toBeLessThan(2 * rate);
    expect(numberOf(original[1] ?? 0) - number).toBeCloseTo(1, 3);
  });

  it('lets its seam be heard: the last beat, then the first', async () => {
    await giveLoop(-20, -20);
    const start = await page.evaluate(async () => {
      const before = window.bench.frame();
      await window.bench.sound.playSeam();
      return before;
    });
    const samples = await heard(start, start + 2 * 8820 + 4096);
    const first = firstSound(samples);
    const numbers = samples.slice(first).map(numberOf);
    expect(numbers[8820 - 2]).toBeCloseTo(35280 - 1, -1);
    expect(numbers[8820 + 10]).toBeLessThan(20);
  });

  it('takes down what is played against it, where it was meant', async () => {
    await giveLoop(-20, -20);
    const hits = await page.evaluate(async (pad) => {
      const { sound, context } = window.bench;
      const lane = {
        id: 'l1',
        name: '',
        bars: 1,
        beatsPerBar: 4,
        beatUnit: 4,
        bpm: 300,
        steady: 100,
        tighten: 0,
        grid: '16',
        swing: 50,
        source: { kind: 'straight', from: 0, until: 1 },
      } as const;
      const taken: { at: number; slice: string }[] = [];
      await sound.record({ lane, countIn: 1, pass: (list) => taken.push(...list) });
      while (sound.recording() !== 'yes') await new Promise((turn) => setTimeout(turn, 1));
      // What is heard at this moment is where the hit was meant.
      const meant: number[] = [];
      for (let i = 0; i < 2; i++) {
        const stamp = performance.now();
        const position = sound.loopTime() ?? -1;
        sound.pressPad({ ...pad, key: i }, { start: 0, landing: 0, end: 0.1 }, 1, stamp);
        meant.push(position * 5);
        const now = context()?.currentTime ?? 0;
        while ((context()?.currentTime ?? 0) < now + 0.11)
          await new Promise((turn) => setTimeout(turn, 1));
      }
      sound.stop();
      return { taken, meant };
    }, pad);
    expect(hits.taken).toHaveLength(2);
    hits.taken.forEach((hit, i) => {
      // 0.05 beats at 300 bpm are 10 ms.
      expect(Math.abs(hit.at - (hits.meant[i] ?? 0))).toBeLessThan(0.05);
    });
  });

  it('takes down what is played in another tempo from where that takes over', async () => {
    await giveLoop(-20, -20);
    const { taken, meant } = await page.evaluate(
      async ([lane, pad, rate]) => {
        const { sound } = window.bench;
        const taken: number[] = [];
        const pass = (hits: readonly { at: number }[]) => taken.push(...hits.map(({ at }) => at));
        await sound.record({ lane, countIn: 1, pass });
        while (sound.recording() !== 'yes') await new Promise((turn) => setTimeout(turn, 1));
        const samples = new Float32Array(2 * 0.8 * rate).fill(0.01);
        sound.setLoop({
          lane: { ...lane, bpm: 150 },
          mix: { sampleRate: rate, channels: [samples] },
          stems: [],
          loudness: -20,
          original: { loudness: -20 },
        });
        // Only the slower loop is so long.
        while ((sound.loopTime() ?? 0) < 0.9) await new Promise((turn) => setTimeout(turn, 1));
        const position = sound.loopTime() ?? -1;
        sound.pressPad(pad, { start: 0, landing: 0, end: 0.1 }, 1, performance.now());
        sound.stop();
        return { taken, meant: (position * 150) / 60 };
      },
      [emptyFlip, pad, rate] as const,
    );
    expect(taken).toHaveLength(1);
    // 0.05 beats at 150 bpm are 20 ms.
    expect(Math.abs((taken[0] ?? 0) - meant)).toBeLessThan(0.05);
  });

  it('has a plain beat under it that keeps time to the sample', async () => {
    await giveLoop(-20, -20);
    const start = await page.evaluate(async () => {
      const before = window.bench.frame();
      await window.bench.sound.playLoop();
      window.bench.sound.setPlainBeat({ kick: false, hat: false, click: true });
      return before;
    });
    const samples = await heard(start, start + 2 * 35280 + 8192);
    const first = firstSound(samples);
    // A second after the start the loop's own numbers are taken away; what is left begins on the beats.
    const rest = samples.slice(first).map((x, i) => x - ((i % 35280) + 1) / 2 ** 19);
    const onsets: number[] = [];
    for (let i = 35280; i < 2 * 35280; i++)
      if (Math.abs(rest[i] ?? 0) > 1e-4 && rest.slice(i - 200, i).every((x) => Math.abs(x) <= 1e-4))
        onsets.push(i - 35280);
    for (const beat of [0, 8820, 17640, 26460])
      expect(onsets.some((at) => Math.abs(at - beat) <= 2)).toBe(true);
  });
});

describe('listening', () => {
  it('starts quiet and remembers only what the user set', async () => {
    await page.evaluate(() => localStorage.clear());
    await page.reload();
    await page.waitForFunction(() => window.bench);
    expect(await page.evaluate(() => window.bench.sound.level())).toBe(-18);
    await page.evaluate(() => window.bench.sound.setLevel(-9));
    await page.reload();
    await page.waitForFunction(() => window.bench);
    expect(await page.evaluate(() => window.bench.sound.level())).toBe(-9);
    await ready();
  });

  it('shows the peak that is put out', async () => {
    await page.evaluate(() => {
      window.bench.sound.setStems([], ['a']);
      return window.bench.sound.playTake();
    });
    await page.waitForFunction(() => window.bench.sound.readPeak() > -12.1);
    expect(await page.evaluate(() => window.bench.sound.readPeak())).toBeCloseTo(
      20 * Math.log10(0.25),
      1,
    );
  });

  it('comes back after the system stopped it', async () => {
    await page.evaluate(() => window.bench.context()?.suspend());
    await page.waitForFunction(() => window.bench.sound.state() === 'stopped by the system');
    await page.evaluate(() => window.bench.sound.wake());
    await page.waitForFunction(() => window.bench.sound.state() === 'running');
  });

  it('is built anew when its context has died', async () => {
    await page.evaluate(() => window.bench.context()?.close());
    await page.evaluate(() => window.bench.sound.wake());
    await page.waitForFunction(() => window.bench.sound.state() === 'running');
    await page.evaluate(() => window.bench.record());
    await page.evaluate(() => window.bench.sound.playTake());
    await page.waitForFunction(() => (window.bench.sound.takeTime() ?? 0) > 0.05);
    expect(await page.evaluate(() => window.bench.context()?.sampleRate)).toBe(rate);
  });
});

describe('a pad that is let go before sound is awake', () => {
  it('does not sound on', async () => {
    await page.reload();
    await page.waitForFunction(() => window.bench);
    await giveTake();
    const pads = await page.evaluate(async (pad) => {
      const { sound } = window.bench;
      sound.pressPad({ ...pad, play: 'repeats' }, { start: 0, landing: 0, end: 1 });
      sound.releasePad(pad);
      await sound.wake();
      // It is shown in a task of its own; timers run in order.
      await new Promise((turn) => setTimeout(turn));
      return sound.sounding().pads;
    }, pad);
    expect(pads).toEqual([]);
    await ready();
  });
});

describe('letter keys', () => {
  const done = () =>
    page.evaluate(() => {
      const { keys } = window.bench;
      return keys.splice(0).join(', ');
    });

  it('press and release the pad of the physical key, once however long they are held', async () => {
    await page.keyboard.down('q');
    await page.keyboard.down('q');
    await page.keyboard.down('a');
    await page.keyboard.up('q');
    await page.keyboard.up('a');
    expect(await done()).toBe('press 1, press 2, release 1, release 2');
  });

  it('let go when Meta goes down or the window loses the keyboard', async () => {
    await page.keyboard.down('q');
    await page.keyboard.down('Meta');
    await page.keyboard.up('Meta');
    await page.keyboard.up('q');
    expect(await done()).toBe('press 1, release 1');
    await page.keyboard.down('a');
    await page.evaluate(() => window.dispatchEvent(new Event('blur')));
    await page.keyboard.up('a');
    expect(await done()).toBe('press 2, release 2');
  });

  it('are letters while something is written, and shortcuts with Control', async () => {
    await page.keyboard.press('Control+q');
    await page.evaluate(() => {
      const input = document.createElement('input');
      document.body.append(input);
      input.focus();
    });
    await page.keyboard.press('q');
    expect(await done()).toBe('');
    expect(await page.evaluate(() => document.querySelector('input')?.value)).toBe('q');
    await page.evaluate(() => document.querySelector('input')?.remove());
  });
});
