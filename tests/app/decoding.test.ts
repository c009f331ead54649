import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { describe, expect, it } from 'vitest';
import { chooseTake, useBuiltPage } from './built-page.ts';
import { untilHeard } from './listening.ts';

/** Recordings that the browser decodes (see compressed/README.md), opened, heard and played on the page. */
const attacks = [0.4, 0.9, 1.5, 2.0, 2.45];

const built = useBuiltPage();

describe('a recording that the browser decodes', () => {
  it.each([
    ['plucks.mp3', 44100],
    ['plucks.ogg', 44100],
    ['plucks.opus', 48000],
  ])('%s is opened at its own rate, and its attacks lie where they were', async (name, rate) => {
    const { page, errors } = await built.open({
      prepare: (page) =>
        page.addInitScript(() => {
          const Native = window.AudioContext;
          window.AudioContext = class extends Native {
            constructor(options?: AudioContextOptions) {
              super(options);
              Object.assign(window, { contextRate: this.sampleRate });
            }
          };
        }),
    });
    await chooseTake(page, fileURLToPath(new URL(`compressed/${name}`, import.meta.url)));
    const words = page.locator('.sheet-words .slice');
    await words.first().waitFor();
    await words.nth(1).click();
    await untilHeard(page);
    expect(await page.evaluate('contextRate')).toBe(rate);

    await page.getByRole('slider', { name: 'Fewer or more cuts' }).press('End');
    await page.waitForFunction(
      (count) => document.querySelectorAll('.sheet-words .slice').length >= count,
      attacks.length,
    );
    const landings: number[] = [];
    const landing = page.getByRole('spinbutton', { name: 'landing', exact: true });
    for (let i = 0; i < (await words.count()); i++) {
      await words.nth(i).focus();
      landings.push(Number(await landing.getAttribute('aria-valuenow')));
    }
    // A frame of MPEG audio is 26 ms long; decoders that know the encoder's delay are far nearer.
    for (const attack of attacks)
      expect(Math.min(...landings.map((at) => Math.abs(at - attack)))).toBeLessThan(0.026);
    await page.getByRole('button', { name: 'projects' }).click();
    await page.getByText('0:03 long', { exact: false }).waitFor();
    expect(errors).toEqual([]);
    await page.context().close();
  });

  it.each([
    ['plucks.mp3', /plucks\.mp3 is cut off: it promises 3\.00 s of sound and holds 1\.\d\d s; /],
    ['plucks.ogg', /plucks\.ogg is cut off: its end is missing after \d\.\d\d s; /],
    ['plucks.opus', /plucks\.opus is cut off: its end is missing after \d\.\d\d s; /],
  ])('%s that is cut off is opened, and that is said in a sentence', async (name, sentence) => {
    const whole = readFileSync(fileURLToPath(new URL(`compressed/${name}`, import.meta.url)));
    const buffer = whole.subarray(0, Math.round(whole.length * 0.6));
    const { page, errors } = await built.open({
      files: [{ name, mimeType: 'audio/mpeg', buffer }],
    });
    await page.locator('.sheet-words .slice').first().waitFor();
    await page.getByRole('alert').getByText(sentence).waitFor();
    expect(errors).toEqual([]);
    await page.context().close();
  });
});
