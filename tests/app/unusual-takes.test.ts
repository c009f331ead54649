import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { makeRandom } from '../../shared/math/random.ts';
import { writeWav } from '../../shared/take/wav-write.ts';
import { useBuiltPage } from './built-page.ts';
import { makeDoubtful } from './doubtful-beats.ts';
import { untilHeard } from './listening.ts';
import { shortTake } from './short-take.ts';

/** Takes in which little is to be heard, and stems that come in several versions. */
const rate = 22050;
const built = useBuiltPage();

const wav = (name: string, seconds: number, sample: (i: number) => number) => ({
  name,
  mimeType: 'audio/wav',
  buffer: Buffer.from(
    writeWav(
      {
        sampleRate: rate,
        channels: [Float32Array.from({ length: seconds * rate }, (_, i) => sample(i))],
      },
      { bits: '16' },
    ),
  ),
});

async function opened(
  files: { name: string; mimeType: string; buffer: Buffer }[],
  prepare?: (page: Page) => Promise<unknown>,
) {
  const { page, errors } = await built.open({ files, prepare });
  page.setDefaultTimeout(20_000);
  const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
  return { page, errors, button };
}

const closed = async (page: Page, errors: readonly string[]) => {
  expect(errors).toEqual([]);
  await page.context().close();
};

describe('a take in which', () => {
  it('nothing sounds is said to be silent, and another one is offered', async () => {
    const { page, errors, button } = await opened([wav('silent.wav', 3, () => 0)]);
    await page.getByText('Nothing is heard in this take').waitFor();
    const choosing = page.waitForEvent('filechooser');
    await button('open another').click();
    await choosing;
    await closed(page, errors);
  });

  it('no attack is heard can be cut by hand', async () => {
    const { page, errors, button } = await opened([
      wav('one.wav', 1, (i) => 0.5 * Math.exp(-i / 100)),
    ]);
    await page.getByText('No attack is heard in this take').waitFor();
    await button('make one slice').click();
    const words = page.locator('.sheet-words .slice');
    const box = await words.first().boundingBox();
    await page.mouse.click((box?.x ?? 0) + (box?.width ?? 0) / 2, (box?.y ?? 0) + 20);
    await button('split here').click();
    await expect.poll(() => words.count()).toBe(2);
    await closed(page, errors);
  });

  it('beats are doubtful is walked through from one of them to the next, by keys and by hand', async () => {
    const { page, errors } = await opened(shortTake().slice(0, 1), makeDoubtful);
    const walk = page.getByRole('button', { name: '2 doubtful beats ›' });
    await walk.waitFor();
    const chosen = page.locator('.sheet-words .beat[aria-pressed="true"]');
    const where = async () => (await chosen.getAttribute('aria-label')) ?? '';
    await page.keyboard.press('Shift+B');
    await page.getByText(': is it right?').waitFor();
    const first = await where();
    expect(first).toMatch(/doubtful$/);
    await walk.click();
    await expect.poll(where).not.toBe(first);
    expect(await where()).toMatch(/doubtful$/);
    await page.keyboard.press('Shift+B');
    await expect.poll(where).toBe(first);
    await closed(page, errors);
  });

  it('no beat is heard gets its beats by tapping', async () => {
    const random = makeRandom(3);
    const { page, errors, button } = await opened([
      // One stroke on a cymbal.
      wav('crash.wav', 8, (i) => {
        const since = i / rate - 0.6;
        return since < 0 ? 0 : 0.4 * (random() - 0.5) * Math.exp(-3 * since);
      }),
    ]);
    await page.getByText('No beat is heard in this take').waitFor();
    await button('tap the beat along first').click();
    await page.locator('.sheet .head-line.on').waitFor();
    for (let i = 0; i < 4; i++) {
      await page.keyboard.press('x');
      const now = await page.evaluate(() => performance.now());
      await page.waitForFunction((now) => performance.now() > now + 400, now);
    }
    await button('done').click();
    await button('Undo: tap beats').waitFor();
    expect(await page.locator('.sheet-words .beat').count()).toBeGreaterThanOrEqual(4);
    await button('set line 1 on it').click();
    await page.getByText('seam: ').first().waitFor();
    await closed(page, errors);
  });
});

it('a take whose file is an ending alone is called by that', async () => {
  const { page, errors } = await opened(
    shortTake()
      .slice(0, 1)
      .map((file) => ({ ...file, name: '.wav' })),
  );
  await page.locator('.sheet-words .slice').first().waitFor();
  expect(await page.getByRole('textbox', { name: 'Name of the project' }).inputValue()).toBe(
    '.wav',
  );
  await closed(page, errors);
});

describe('a browser in which', () => {
  it('sound has no way out says so, and plays once it has one', async () => {
    const { page, errors, button } = await opened(shortTake().slice(0, 1), (page) =>
      page.addInitScript(() => {
        // As where no loudspeaker is connected: contexts open, and never run.
        const Native = window.AudioContext;
        const there: AudioContext[] = [];
        window.AudioContext = class extends Native {
          constructor(options?: AudioContextOptions) {
            super(options);
            there.push(this);
            void super.suspend();
          }
          override resume = () => new Promise<void>(() => {});
        };
        Object.assign(window, {
          connect: () => Promise.all(there.map((one) => Native.prototype.resume.call(one))),
        });
      }),
    );
    await page.locator('.sheet-words .slice').first().waitFor();
    await button('take').click();
    const note = page.getByText('No sound comes out');
    await note.waitFor();
    expect(await button('take').getAttribute('aria-pressed')).toBe('false');
    await page.evaluate(() => (window as unknown as { connect: () => Promise<void> }).connect());
    await note.waitFor({ state: 'detached' });
    await button('take').click();
    await untilHeard(page);
    await closed(page, errors);
  });
});

describe('stems', () => {
  it('are renamed; a variant is heard in the place of its part, or alone', async () => {
    const [mix, harp, low] = shortTake();
    if (!mix || !harp || !low) throw new Error('The short take has lost a stem.');
    const dry = { ...harp, name: 'Ebb - Harp dry.wav', buffer: Buffer.from(harp.buffer) };
    // Another file, or it would be the same recording.
    dry.buffer.writeInt16LE(1, dry.buffer.length - 2);
    const { page, errors, button } = await opened([mix, harp, low, dry]);
    await page.locator('.sheet-words .slice').first().waitFor();
    const lane = page.getByRole('region', { name: 'Lane' });
    await lane.getByRole('button', { name: 'listening' }).click();
    const heard = (name: string) => page.getByRole('combobox', { name: `how ${name} is heard` });
    expect(await heard('Harp, dry').inputValue()).toBe('silent');
    await heard('Harp, dry').selectOption('heard');
    expect(await heard('Harp').inputValue()).toBe('silent');
    expect(await heard('Low').inputValue()).toBe('heard');
    await button('close').click();
    await button('take').click();
    await untilHeard(page);
    await button('take').click();
    await lane.getByRole('button', { name: 'listening' }).click();
    await heard('Harp').selectOption('heard');
    expect(await heard('Harp, dry').inputValue()).toBe('silent');

    const name = page.getByRole('textbox', { name: 'name of Low' });
    await name.fill('Bass strings');
    await name.press('Enter');
    await heard('Bass strings').waitFor();
    await page.getByRole('combobox', { name: 'version of Bass strings' }).selectOption('wet');
    await heard('Bass strings, wet').waitFor();
    await button('close').click();
    await button('Undo: name a variant').click();
    await button('Undo: rename a stem').click();
    await button('Redo: rename a stem').waitFor();
    await closed(page, errors);
  });
});
