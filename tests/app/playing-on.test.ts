import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { untilCountedIn } from './counting-in.ts';
import { untilHeard } from './listening.ts';
import { shortTake } from './short-take.ts';

/** What plays goes on, changes or ends with what is done to the lane meanwhile. */
const built = useBuiltPage();
let page: Page;
let errors: string[];

const words = () => page.locator('.sheet-words .slice');
const placed = () => page.locator('.lane-word');
const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const pressed = (name: string) => button(name).getAttribute('aria-pressed');
const setValue = async (name: string, value: string) => {
  const field = page.getByRole('spinbutton', { name, exact: true });
  await field.fill(value);
  await field.press('Enter');
  await page.keyboard.press('Escape');
};
const setWord = async (at: number) => {
  await words()
    .nth(at)
    .click({ position: { x: 8, y: 30 } });
  await button('set on the lane').click();
};
const rendered = () => page.getByText('seam: ').first().waitFor();

/** The highest peak while the lane goes round once, from its third start on: what rang on is over by then. */
const loudestInARound = () =>
  page.evaluate(async () => {
    const head = document.querySelector('.lane .head-line') as HTMLElement;
    const at = () => new DOMMatrix(getComputedStyle(head).transform).e;
    let peak = 0;
    for (let rounds = 0, last = at(); rounds < 4; ) {
      await new Promise(requestAnimationFrame);
      const now = at();
      if (now < last) rounds += 1;
      last = now;
      if (rounds === 3) peak = Math.max(peak, window.ears?.hear().peak ?? 0);
    }
    return peak;
  });

beforeAll(async () => {
  ({ page, errors } = await built.open({ files: shortTake() }));
  page.setDefaultTimeout(20_000);
  await words().first().waitFor();
});
beforeEach(async () => {
  await page.keyboard.press('Escape');
  while (await page.getByRole('button', { name: /^Undo: (?!nothing)/ }).count())
    await page.keyboard.press('Control+z');
  await untilHeard(page, false);
});
afterEach(() => expect(errors).toEqual([]));
afterAll(() => page.context().close());

describe('a lane that plays', () => {
  it('falls silent when it is deleted', async () => {
    await button('A new flip').click();
    await setWord(0);
    await rendered();
    await button('loop').click();
    await untilHeard(page);
    await button('delete').last().click();
    await expect.poll(() => pressed('loop')).toBe('false');
    await untilHeard(page, false);
  });

  it('gives way to another version that is brought into view, without a rest', async () => {
    for (let k = 0; k < 2; k++) {
      await button('A new flip').click();
      await setWord(k);
      await rendered();
    }
    await button('loop').click();
    await untilHeard(page);
    await page.locator('.version').first().click();
    await rendered();
    expect(await pressed('loop')).toBe('true');
    await page.keyboard.press('Space');
  });
});

describe('a pass', () => {
  it('that is taken back while another is played in is not heard any more', async () => {
    await button('A new flip').click();
    await setValue('bars', '1');
    await setValue('tempo', '240');
    await untilCountedIn(page, () => button('play it in').click());
    await page.locator('.lane .head-line.on').waitFor();
    await page.keyboard.press('1');
    await button('Undo: play a pass').waitFor();
    await rendered();
    await page.keyboard.press('Control+z');
    expect(await placed().count()).toBe(0);
    expect(await pressed('play it in')).toBe('true');
    expect(await loudestInARound()).toBeLessThan(1e-4);
    await button('play it in').click();
  });

  it('that is over while a word is dragged lets the hand go on', async () => {
    await button('A new flip').click();
    await setValue('bars', '1');
    await setValue('tempo', '240');
    await setWord(0);
    await rendered();
    await untilCountedIn(page, () => button('play it in').click());
    await page.locator('.lane .head-line.on').waitFor();
    // By its name: the words stand in the order of their places, and the played one may come before it.
    const name = await placed().first().getAttribute('data-word');
    const word = page.locator(`.lane-word[data-word="${name}"]`);
    const box = (await word.boundingBox()) ?? { x: 0, y: 0, width: 0, height: 0 };
    const paper = (await page.locator('.lane-paper').boundingBox()) ?? box;
    const [x, y] = [box.x + 20, box.y + box.height / 2];
    await page.mouse.move(x, y);
    await page.mouse.down();
    await page.mouse.move(x + paper.width * 0.25, y, { steps: 4 });
    await page.keyboard.press('2');
    // The pass is handed over once the lane has gone round.
    await expect.poll(() => placed().count()).toBe(2);
    await page.mouse.move(x + paper.width * 0.5, y, { steps: 4 });
    await page.mouse.up();
    await button('play it in').click();
    await button('Undo: move on the lane').waitFor();
    const moved = await word.boundingBox();
    expect(Math.abs((moved?.x ?? 0) - box.x - paper.width * 0.5)).toBeLessThan(12);
    await page.keyboard.press('Control+z');
    await button('Undo: play a pass').waitFor();
    expect(await placed().count()).toBe(2);
  });

  it('ends where another version is brought into view', async () => {
    for (let k = 0; k < 2; k++) await button('A new flip').click();
    await button('play it in').click();
    await page.locator('.versions-deeds [aria-pressed="true"]').waitFor();
    await page.locator('.version').first().click();
    await expect.poll(() => pressed('play it in')).toBe('false');
  });
});

describe('a loop that was asked for', () => {
  it('does not come later by itself where there is nothing to play', async () => {
    await button('A new flip').click();
    await button('loop').click();
    await page.getByText('The lane is empty: set words on it').waitFor();
    await setWord(0);
    await rendered();
    expect(await pressed('loop')).toBe('false');
  });

  it('gives way to the take that was asked for after it', async () => {
    await button('Line 1').click();
    await page.evaluate(() => {
      // In one turn of the page's work: nothing is rendered in between.
      const press = (name: string) =>
        [...document.querySelectorAll<HTMLElement>('button')]
          .find((one) => one.textContent?.trim() === name)
          ?.click();
      press('loop');
      press('take');
    });
    await rendered();
    await expect.poll(() => pressed('take')).toBe('true');
    expect(await pressed('loop')).toBe('false');
    await page.keyboard.press('Space');
  });
});
