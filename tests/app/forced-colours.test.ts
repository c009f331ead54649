import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/**
 * The page where the system's own few colours are on everything (CSS Color Adjustment 1, 3): what is drawn and what is
 * pressed can be told from what lies behind it.
 */
const built = useBuiltPage();

/** Lightness by WCAG 2.2 of each colour that covers a thousandth of a drawing or more. */
const drawn = (page: Page, selector: string) =>
  page
    .locator(selector)
    .first()
    .evaluate((canvas: HTMLCanvasElement) => {
      const { data } = (canvas.getContext('2d') as CanvasRenderingContext2D).getImageData(
        0,
        0,
        canvas.width,
        canvas.height,
      );
      const counts = new Map<string, number>();
      for (let i = 0; i < data.length; i += 4) {
        if (data[i + 3] !== 255) continue;
        const colour = data.subarray(i, i + 3).join(' ');
        counts.set(colour, (counts.get(colour) ?? 0) + 1);
      }
      const linear = (v: number) =>
        v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4;
      return [...counts]
        .filter(([, count]) => count > data.length / 4 / 1000)
        .map(([colour]) => {
          const [r = 0, g = 0, b = 0] = colour.split(' ').map((v) => linear(Number(v)));
          return 0.2126 * r + 0.7152 * g + 0.0722 * b;
        });
    });

const contrast = (lights: readonly number[]) =>
  (Math.max(...lights) + 0.05) / (Math.min(...lights) + 0.05);

const inkIsSeen = async (page: Page) => {
  await expect.poll(async () => contrast(await drawn(page, '.sheet-ink'))).toBeGreaterThan(4.5);
};

describe.each(['light', 'dark'] as const)('few colours, %s', (colorScheme) => {
  it('leave ink on its words, and show what is pressed', async () => {
    const { page, errors } = await built.open({
      forcedColors: 'active',
      colorScheme,
      files: shortTake(),
    });
    const button = (name: string) => page.getByRole('button', { name, exact: true });
    await page.locator('.sheet-words .slice').first().waitFor();
    await inkIsSeen(page);
    await button('Line 1').click();
    await button('make a straight loop').click();
    await page.getByText('seam: ').first().waitFor();
    await button('A new flip').click();
    const worn = (pressed: boolean) =>
      page
        .locator(`.version[aria-pressed="${pressed}"]`)
        .first()
        .evaluate((one) => {
          const { color, backgroundColor } = getComputedStyle(one);
          return `${color} ${backgroundColor}`;
        });
    expect(await worn(true)).not.toBe(await worn(false));
    // A line to slide along is a gradient, which the browser would take away.
    const line = page.locator('.sheet-foot .slide');
    expect(await line.evaluate((one) => getComputedStyle(one).backgroundImage)).toMatch(/gradient/);
    const { violations } = await new AxeBuilder({ page }).setLegacyMode(true).analyze();
    expect(violations.map(({ id }) => id).filter((id) => id.includes('contrast'))).toEqual([]);
    expect(errors).toEqual([]);
    await page.context().close();
  });
});

it('comes and goes while the page is open', async () => {
  const { page, errors } = await built.open({ colorScheme: 'light', files: shortTake() });
  await page.locator('.sheet-words .slice').first().waitFor();
  await inkIsSeen(page);
  const before = await drawn(page, '.sheet-ink');
  await page.emulateMedia({ forcedColors: 'active', colorScheme: 'dark' });
  await expect.poll(() => drawn(page, '.sheet-ink')).not.toEqual(before);
  await inkIsSeen(page);
  await page.emulateMedia({ forcedColors: 'none', colorScheme: 'light' });
  await expect.poll(() => drawn(page, '.sheet-ink')).toEqual(before);
  expect(errors).toEqual([]);
  await page.context().close();
});
