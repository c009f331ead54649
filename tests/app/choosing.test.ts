import type { Locator, Page } from 'playwright-core';
import { afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { boxOf } from './page-hands.ts';
import { shortTake } from './short-take.ts';
import { wideWords } from './states.ts';

/** What is chosen, by hand and by keys, and what is then spoken of and changed: that alone. */
const built = useBuiltPage();
let page: Page;
let errors: string[];

const words = () => page.locator('.sheet-words .slice');
const placed = () => page.locator('.lane-word');
const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const value = (name: string) => page.getByRole('spinbutton', { name, exact: true });
const said = () => page.locator('.sentence .said').textContent();
/** Which of several buttons are pressed, in their order. */
const chosen = (of: Locator) =>
  of.evaluateAll((all) =>
    all.flatMap((one, i) => (one.getAttribute('aria-pressed') === 'true' ? [i] : [])),
  );
const press = (of: Locator, at: number, ...modifiers: ('Shift' | 'Control')[]) =>
  of.nth(at).click({ modifiers, position: { x: 8, y: 30 } });
const undone = async () => {
  await page.keyboard.press('Escape');
  while (await page.getByRole('button', { name: /^Undo: (?!nothing)/ }).count())
    await page.keyboard.press('Control+z');
};

beforeAll(async () => {
  ({ page, errors } = await built.open({ files: shortTake() }));
  page.setDefaultTimeout(20_000);
  await words().first().waitFor();
});
beforeEach(undone);
afterEach(() => expect(errors).toEqual([]));

describe('what is typed', () => {
  it('belongs to the words it was typed for, whatever is pressed next', async () => {
    const wide = await wideWords(page);
    const [first = 0, second = 1] = wide;
    const rings = async (at: number) => {
      await press(words(), at);
      return value('how long it rings from its landing').getAttribute('aria-valuenow');
    };
    const other = await rings(second);
    await press(words(), first);
    await value('how long it rings from its landing').click();
    await page.keyboard.type('0.11');
    await press(words(), second);
    await button('Undo: change how long it rings').waitFor();
    expect(await value('how long it rings from its landing').getAttribute('aria-valuenow')).toBe(
      other,
    );
    expect(await rings(first)).toBe('0.11');
  });
});

describe('what is gone', () => {
  it('is not spoken of any more', async () => {
    const [at = 0] = await wideWords(page);
    await press(words(), at);
    await button('delete').first().click();
    const next = await boxOf(words().nth(at));
    await page.mouse.dblclick(next.x - 20, next.y + 30);
    await button('Undo: add a slice').waitFor();
    expect(await said()).toMatch(/slice \d+ lands at/);
    await page.keyboard.press('Control+z');
    expect(await said()).not.toMatch(/lands|rings/);
    await page.getByText('Press a word or its pad').waitFor();
  });
});

describe('the focus', () => {
  it('that a leaf gives back chooses nothing', async () => {
    await press(words(), 1);
    await page.keyboard.press('Escape');
    await page.keyboard.press('?');
    await page.getByRole('dialog').waitFor();
    await page.keyboard.press('Escape');
    await page.locator('dialog').waitFor({ state: 'detached' });
    expect(await chosen(words())).toEqual([]);
  });
});
