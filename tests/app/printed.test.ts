import { constants, inflateSync } from 'node:zlib';
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

it.each(['light', 'dark'] as const)('stands on its own paper, %s', async (colorScheme) => {
  const { page, errors } = await built.open({ colorScheme, files: shortTake() });
  await page.locator('.sheet-words .slice').first().waitFor();
  const paper = await page.evaluate(() =>
    getComputedStyle(document.documentElement).backgroundColor.match(/\d+/g)?.join(' '),
  );
  expect(fills(await page.pdf({ format: 'A4' }))).toContain(paper);
  expect(errors).toEqual([]);
  await page.context().close();
});
