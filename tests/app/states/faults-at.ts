import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { type BuiltPage, chooseTake } from '../built-page.ts';
import { shortTake } from '../short-take.ts';
import { firstStates, type State, states } from '../states.ts';

/**
 * No rule of WCAG 2.2 A or AA is broken in any state of the page, at each size, by day and by night
 * (axe-core, Deque). Beats stand as close as they were played, so their targets may be small (2.5.8,
 * exception "equivalent": each can be reached by keys, and zooming in parts them).
 */
const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

async function faults(page: Page, where: string): Promise<string[]> {
  const { violations } = await new AxeBuilder({ page })
    .setLegacyMode(true)
    .withTags(tags)
    .analyze();
  return violations.flatMap(({ id, nodes }) =>
    nodes
      .filter(({ html }) => id !== 'target-size' || !html.includes('class="beat"'))
      .map(({ html }) => `${where}: ${id} ${html.slice(0, 160)}`),
  );
}

/** What runs over the edge of the page or of its box. */
const overflow = (page: Page) =>
  page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);

/** Where the regions of the page lie. */
const regions = (page: Page) =>
  page.evaluate(() =>
    ['.strip', '.sheet', '.sentence', '.rows', '.lane']
      .map((region) => {
        const box = document.querySelector(region)?.getBoundingClientRect();
        return `${region} ${box?.top} ${box?.height}`;
      })
      .join(', '),
  );

/** What is at fault in each state; with a take, nothing that is chosen or made moves a region either. */
async function walk(page: Page, list: readonly State[], all: boolean): Promise<string[]> {
  const found: string[] = [];
  let lie: string | null = null;
  for (const { name, act, leave, alike } of list) {
    try {
      await act(page);
    } catch (error) {
      throw new Error(`${name}: ${error}`);
    }
    if (all || !alike) found.push(...(await faults(page, name)));
    if ((await overflow(page)) > 0) found.push(`${name}: wider than the page`);
    if (list === states) {
      const now = await regions(page);
      lie ??= now;
      if (now !== lie) found.push(`${name}: ${now}, before ${lie}`);
    }
    try {
      await leave?.(page);
    } catch (error) {
      throw new Error(`leaving ${name}: ${error}`);
    }
  }
  return found;
}

export interface View {
  readonly width: number;
  readonly height: number;
  readonly touch: boolean;
  readonly dark: boolean;
}

export const faultsAt = (built: BuiltPage, { width, height, touch, dark }: View) =>
  describe('no state of the page has a fault that axe finds', () => {
    it(`at ${width} x ${height}, ${dark ? 'by night' : 'by day'}`, async () => {
      const { page, errors } = await built.open({
        viewport: { width, height },
        hasTouch: touch,
        colorScheme: dark ? 'dark' : 'light',
      });
      // Text faces differ from system to system by a tenth in width: as wide as the widest.
      await page.evaluate(() => {
        document.documentElement.style.letterSpacing = '0.04em';
      });
      expect(await walk(page, firstStates, !touch)).toEqual([]);
      await chooseTake(page, shortTake());
      expect(await walk(page, states, !touch)).toEqual([]);
      expect(errors).toEqual([]);
      await page.context().close();
      // Axe reads every element some dozens of times: a minute where many share the machine.
    }, 400_000);
  });
