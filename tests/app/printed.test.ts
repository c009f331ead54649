import { constants, inflateSync } from 'node:zlib';
import type { Page } from 'playwright-core';
import { expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** The page on the printer's paper. */
const built = useBuiltPage();

/** Colours that something is filled with in a PDF (ISO 32000-1, 8.6.8: `r g b rg`), each of 0 to 255. */
function fills(pdf: Buffer): string[] {
  const text = pdf.toString('latin1');
  const found = new Set<string>();
  for (const { index = 0, 0: head } of text.matchAll(/stream\r?\n/g)) {
    try {
      const page = inflateSync(pdf.subarray(index + head.length), {
        finishFlush: constants.Z_SYNC_FLUSH,
      });
      for (const [, ...rgb] of page.toString('latin1').matchAll(/([\d.]+) ([\d.]+) ([\d.]+) rg\b/g))
        found.add(rgb.map((v) => Math.round(Number(v) * 255)).join(' '));
    } catch {
      // Fonts and pictures are no pages.
    }
  }
  return [...found];
}

const paper = (page: Page) =>
  page.evaluate(() =>
    getComputedStyle(document.documentElement).backgroundColor.match(/\d+/g)?.join(' '),
  );
declare global {
  interface Window {
    /** How bright the sheet is drawn, 0 to 255. */
    ink: () => number;
    printedInk: number;
  }
}

/** Lets the test look at the sheet's ink now, and at what it was when the page was printed. */
const lookAtInk = (page: Page) =>
  page.evaluate(() => {
    window.ink = () => {
      let [sum, count] = [0, 0];
      for (const canvas of document.querySelectorAll<HTMLCanvasElement>('.sheet canvas')) {
        const context = canvas.getContext('2d');
        const { data } = context?.getImageData(0, 0, canvas.width, canvas.height) ?? { data: [] };
        for (let i = 0; i < data.length; i += 4) {
          if (data[i + 3] < 255) continue;
          sum += (data[i] + data[i + 1] + data[i + 2]) / 3;
          count += 1;
        }
      }
      return sum / count;
    };
    addEventListener('beforeprint', () => {
      window.printedInk = window.ink();
    });
  });

it.each([
  ['light', 'as the system'],
  ['dark', 'as the system'],
  ['light', 'dark'],
] as const)(
  'is light on paper, where the system is %s and the page %s',
  async (colorScheme, own) => {
    const { page, errors } = await built.open({ colorScheme, files: shortTake() });
    await page.locator('.sheet-words .slice').first().waitFor();
    await lookAtInk(page);
    await page.locator('body').press('?');
    const choice = page.getByRole('combobox', { name: 'light or dark' });
    const seen = async (theme: string) => {
      await choice.selectOption(theme);
      // Drawn in the next frame.
      await page.evaluate(async () => {
        for (let i = 0; i < 2; i++) await new Promise(requestAnimationFrame);
      });
      return { paper: await paper(page), ink: await page.evaluate(() => window.ink()) };
    };
    const day = await seen('light');
    const now = await seen(own);
    const isDay = colorScheme === 'light' && own !== 'dark';
    expect(now.paper === day.paper).toBe(isDay);
    expect(now.ink === day.ink).toBe(isDay);
    await page.getByRole('button', { name: 'close', exact: true }).click();
    const filled = fills(await page.pdf({ format: 'A4' }));
    expect(filled).toContain(day.paper);
    if (!isDay) expect(filled).not.toContain(now.paper);
    expect(await page.evaluate(() => window.printedInk)).toBe(day.ink);
    // And back, on the screen.
    expect(await paper(page)).toBe(now.paper);
    expect(errors).toEqual([]);
    await page.context().close();
  },
);
