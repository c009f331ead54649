import type { Page } from 'playwright-core';
import { describe, expect, it } from 'vitest';
import { chooseTake, useBuiltPage } from './built-page.ts';
import { makeDoubtful } from './doubtful-beats.ts';
import { shortTake } from './short-take.ts';
import { firstStates, states } from './states.ts';

/** The page in every text size that a browser offers (WCAG 2.2, 1.4.4: up to 200 % without loss), at three sizes of the page. */
const built = useBuiltPage();

/** As the browser's own setting does it. */
async function setTextSize(page: Page, pixels: number): Promise<void> {
  const session = await page.context().newCDPSession(page);
  await session.send('Page.setFontSizes', { fontSizes: { standard: pixels, fixed: pixels } });
}

/** Words that are cut off by their own box, controls that lie on one another, fingers' targets that are small. */
const faults = (page: Page, finger: boolean) =>
  page.evaluate((finger) => {
    const found: string[] = [];
    const scope = document.querySelector('dialog[open]') ?? document;
    const seen = (element: Element) =>
      (element as HTMLElement).checkVisibility({ visibilityProperty: true }) &&
      !element.closest('.unseen');
    const called = (element: Element) =>
      `${element.className || element.tagName} "${(element.getAttribute('aria-label') ?? element.textContent ?? '').trim().slice(0, 40)}"`;
    // Letters in their boxes: a name of a step and what is typed may end in an ellipsis.
    const letters = [...scope.querySelectorAll('*')].filter(
      (element) =>
        seen(element) &&
        !element.closest('select, .step-name, .line, .leaf:not([open])') &&
        [...element.childNodes].some((node) => node.nodeType === 3 && node.textContent?.trim()),
    );
    const boxOf = (element: Element) => {
      const range = document.createRange();
      return [...element.childNodes].flatMap((node) => {
        if (node.nodeType !== 3 || !node.textContent?.trim()) return [];
        range.selectNodeContents(node);
        return [...range.getClientRects()].filter((r) => r.width > 1 && r.height > 1);
      });
    };
    const frame = (element: Element) => {
      for (let up = element.parentElement; up; up = up.parentElement)
        if (getComputedStyle(up).overflowY === 'hidden' || up.tagName === 'BUTTON')
          return up.getBoundingClientRect();
      return null;
    };
    const lines = letters.flatMap((element) => boxOf(element).map((rect) => ({ element, rect })));
    for (const element of letters) {
      const own = element.getBoundingClientRect();
      const box = element.tagName === 'BUTTON' ? own : frame(element);
      for (const rect of box ? boxOf(element) : [])
        if (box && (rect.left < box.left - 1 || rect.right > box.right + 1))
          found.push(`${called(element)} is cut off`);
    }
    for (const [i, a] of lines.entries())
      for (const b of lines.slice(i + 1)) {
        if (a.element.contains(b.element) || b.element.contains(a.element)) continue;
        const x = Math.min(a.rect.right, b.rect.right) - Math.max(a.rect.left, b.rect.left);
        const y = Math.min(a.rect.bottom, b.rect.bottom) - Math.max(a.rect.top, b.rect.top);
        // Rows of letters may touch with what stands free above and below them.
        const low = Math.min(a.rect.height, b.rect.height);
        const over = (one: Element) => one.closest('.margin, .doing, .strip-tempo');
        if (x > 2 && y > low * 0.4 && !over(a.element) && !over(b.element))
          found.push(`${called(a.element)} lies on ${called(b.element)}`);
      }
    for (const { element, rect } of lines)
      for (const framed of scope.querySelectorAll('.press, .version')) {
        if (!seen(framed) || framed.contains(element) || element.closest('.margin, .doing'))
          continue;
        const box = framed.getBoundingClientRect();
        const x = Math.min(rect.right, box.right) - Math.max(rect.left, box.left);
        const y = Math.min(rect.bottom, box.bottom) - Math.max(rect.top, box.top);
        if (x > 2 && y > 2) found.push(`${called(element)} lies on the edge of ${called(framed)}`);
      }
    if (finger)
      for (const target of scope.querySelectorAll('button, input:not(.title), select')) {
        if (!seen(target) || target.closest('.sheet-words, .lane-words, .tuner-notes')) continue;
        if (target.matches('.inline, .lane-word, .pad.none, [type="range"]')) continue;
        const { height } = target.getBoundingClientRect();
        if (height > 0 && height < 43.5) found.push(`${called(target)} is ${height} px high`);
      }
    const { scrollWidth, clientWidth } = document.documentElement;
    if (scrollWidth > clientWidth)
      found.push(`${scrollWidth - clientWidth} px wider than the page`);
    return [...new Set(found)];
  }, finger);

it('a narrow pad says what is changed about it beside its key, not over it', async () => {
  const { page, errors } = await built.open({ files: shortTake() });
  await page.locator('.sheet-words .slice').first().waitFor();
  await page.getByRole('slider', { name: 'Fewer or more cuts' }).press('End');
  await page.locator('.pad:not(.none)').nth(1).click();
  const pitch = page.getByRole('spinbutton', { name: 'pitch in semitones' });
  await pitch.fill('2 lower');
  await pitch.press('Enter');
  await page.getByRole('combobox', { name: 'choke group' }).selectOption('A');
  await page.locator('.pad-more', { hasText: 'A' }).waitFor();
  // As narrow as a short slice in a full row is.
  await page.evaluate(() => {
    for (const pad of document.querySelectorAll<HTMLElement>('.pad'))
      pad.style.setProperty('flex', '0 0 34px');
  });
  expect(await faults(page, false)).toEqual([]);
  expect(errors).toEqual([]);
  await page.context().close();
});

describe.each([
  [1366, 768, false, [16, 20, 24]],
  [1180, 820, true, [16, 20, 24]],
  [820, 1180, true, [16, 20, 24]],
  // The first and the last zoomed in to 200 %, and as narrow as 400 % of a usual window (1.4.10).
  [683, 384, false, [16]],
  [410, 590, true, [16]],
  [320, 512, true, [16]],
] as const)('at %i x %i', (width, height, touch, sizes) => {
  it.each(sizes)('text of %i px is whole everywhere', async (size) => {
    const { page, errors } = await built.open({
      viewport: { width, height },
      hasTouch: touch,
      prepare: async (page) => {
        await setTextSize(page, size);
        await makeDoubtful(page);
      },
    });
    const root = () =>
      page.evaluate(() => Number.parseFloat(getComputedStyle(document.documentElement).fontSize));
    expect(await root()).toBe(size);
    const found: string[] = [];
    const walk = async (list: typeof states) => {
      for (const { name, act, leave, alike } of list) {
        try {
          await act(page);
        } catch (error) {
          throw new Error(`${name}: ${error}`);
        }
        if (!alike) found.push(...(await faults(page, touch)).map((fault) => `${name}: ${fault}`));
        if (process.env.SHOTS && !alike)
          await page.screenshot({
            path: `${process.env.SHOTS}/${width}-${size}-${name.replace(/[ ,]+/g, '-')}.png`,
          });
        await leave?.(page);
      }
    };
    await walk(firstStates);
    await chooseTake(page, shortTake());
    await walk(states);
    expect(found).toEqual([]);
    expect(errors).toEqual([]);
    await page.context().close();
  });
});
