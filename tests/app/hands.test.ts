import type { Locator, Page } from 'playwright-core';
import { beforeAll, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';

/**
 * What hands do on the sheet, the rows, the lane and in the sentences, with a mouse, with keys and with
 * fingers, each checked by what the page then says of itself.
 */
const built = useBuiltPage();
let page: Page;

const words = () => page.locator('.sheet-words .slice');
const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const undoes = (label: string) => button(`Undo: ${label}`);

async function boxOf(locator: Locator) {
  const box = await locator.boundingBox();
  if (!box) throw new Error('It is not on the page.');
  return box;
}

/** The first word in view that is wide enough for a hand, from `from` on. */
async function wideWord(from = 0): Promise<Locator> {
  const widths = await words().evaluateAll((all) => all.map((one) => one.clientWidth));
  const at = widths.findIndex((width, i) => i >= from && width > 40);
  return words().nth(at);
}

async function drag(from: { x: number; y: number }, to: { x: number; y: number }) {
  await page.mouse.move(from.x, from.y);
  await page.mouse.down();
  await page.mouse.move((from.x + to.x) / 2, (from.y + to.y) / 2, { steps: 4 });
  await page.mouse.move(to.x, to.y, { steps: 4 });
  await page.mouse.up();
}

beforeAll(async () => {
  ({ page } = await built.open());
  page.setDefaultTimeout(100_000);
  await button('try the demo take').click();
  await words().first().waitFor();
  page.setDefaultTimeout(20_000);
});
describe('on the sheet', () => {
  it('sets a beat by pressing twice above a line, and takes it away by Delete', async () => {
    const word = await wideWord();
    const { x, y, width } = await boxOf(word);
    const dots = await page.locator('.sheet-words .beat').evaluateAll(
      (all, top) =>
        all
          .map((one) => one.getBoundingClientRect())
          .filter((box) => Math.abs(box.y + 9 - top) < 20)
          .map((box) => box.x + 9),
      y,
    );
    // A place above the word with no beat near it.
    const spot = Array.from({ length: 40 }, (_, i) => x + (i * width) / 40).find((at) =>
      dots.every((dot) => Math.abs(dot - at) > 12),
    );
    if (spot === undefined) throw new Error('Beats stand everywhere above the first word.');
    await page.mouse.dblclick(spot, y - 9);
    await undoes('add a beat').waitFor();
    await button('no beat here').click();
    await undoes('remove a beat').waitFor();
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+z');
  });

  it('moves a cut as far as the hand does when Alt frees it, as one step', async () => {
    const word = await wideWord(1);
    const before = await boxOf(word);
    await page.keyboard.down('Alt');
    await drag({ x: before.x + 1, y: before.y + 20 }, { x: before.x + 15, y: before.y + 20 });
    await page.keyboard.up('Alt');
    const after = await boxOf(word);
    // The hand took hold within a pixel of the edge.
    expect(Math.abs(after.x - before.x - 14)).toBeLessThan(2);
    await undoes('move a cut').click();
    expect((await boxOf(word)).x).toBeCloseTo(before.x, 1);
  });

  it('leaves a cut where it was on Escape', async () => {
    const word = await wideWord(1);
    const before = await boxOf(word);
    await page.mouse.move(before.x + 1, before.y + 20);
    await page.mouse.down();
    await page.mouse.move(before.x + 20, before.y + 20, { steps: 4 });
    await page.keyboard.press('Escape');
    await page.mouse.up();
    expect((await boxOf(word)).x).toBeCloseTo(before.x, 1);
  });

  it('moves a beat, which then stands where the hand left it', async () => {
    const beat = page.locator('.sheet-words .beat').nth(3);
    const { x, y } = await boxOf(beat);
    await page.keyboard.down('Alt');
    await drag({ x: x + 9, y: y + 9 }, { x: x + 21, y: y + 9 });
    await page.keyboard.up('Alt');
    await undoes('move a beat').waitFor();
    await page.getByText(/is set by you/).waitFor();
    await undoes('move a beat').click();
  });

  it('leaves the beats as they were where tapping is given up', async () => {
    await page.keyboard.press('Escape');
    const before = await page.locator('.step-name').first().textContent();
    await button('tap the beat along').click();
    await page.locator('.sheet .head-line.on').waitFor();
    await page.keyboard.press('x');
    await undoes('tap beats').waitFor();
    await button('leave as it was').click();
    await button('tap the beat along').waitFor();
    expect(await undoes('tap beats').count()).toBe(0);
    expect(await page.locator('.step-name').first().textContent()).toBe(before);
  });

  it('chooses by keys, a range with Shift, and says so', async () => {
    await words().first().focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await page.keyboard.press('Shift+ArrowRight');
    await page.getByText('3 slices', { exact: false }).first().waitFor();
    await page.keyboard.press('Escape');
  });

  it('takes a word out of the chosen ones by a press with Control', async () => {
    const chosen = () =>
      words().evaluateAll((all) =>
        all.flatMap((one, i) => (one.getAttribute('aria-pressed') === 'true' ? [i] : [])),
      );
    const press = async (at: number, ...modifiers: 'Control'[]) =>
      words()
        .nth(at)
        .click({ modifiers, position: { x: 8, y: 30 } });
    await press(0);
    await press(1, 'Control');
    await press(2, 'Control');
    expect(await chosen()).toEqual([0, 1, 2]);
    await press(0, 'Control');
    expect(await chosen()).toEqual([1, 2]);
    await page.keyboard.press('Escape');
  });

  it('chooses lines one by one with Control, and as far as one with Shift', async () => {
    const lines = page.locator('.sheet-words .line');
    const chosen = () =>
      lines.evaluateAll((all) =>
        all.flatMap((one, i) => (one.getAttribute('aria-pressed') === 'true' ? [i] : [])),
      );
    await lines.nth(0).click();
    await lines.nth(2).click({ modifiers: ['Control'] });
    expect(await chosen()).toEqual([0, 2]);
    await lines.nth(0).click({ modifiers: ['Control'] });
    expect(await chosen()).toEqual([2]);
    await lines.nth(0).click({ modifiers: ['Shift'] });
    expect(await chosen()).toEqual([0, 1, 2]);
    await lines.nth(1).click({ modifiers: ['Shift'] });
    expect(await chosen()).toEqual([1, 2]);
    await page.keyboard.press('Escape');
  });

  it('fills a row from all chosen lines, also where they do not follow one another', async () => {
    const inLine = (line: number) =>
      page.locator('.sheet-words .slice').evaluateAll(
        (all, line) =>
          all.flatMap((one) => {
            const label = one.getAttribute('aria-label') ?? '';
            return label.startsWith(`Line ${line},`)
              ? [label.split(', ').slice(0, 2).join(', ')]
              : [];
          }),
        line,
      );
    // So few that a row has room for more than the first line's.
    await page.getByRole('slider', { name: 'Fewer or more cuts' }).press('Home');
    await undoes('change how many cuts').waitFor();
    expect((await inLine(1)).length).toBeLessThan(10);
    await button('Line 1').click();
    await button('Line 3').click({ modifiers: ['Control'] });
    const row = page.getByRole('group', { name: 'Row 1 of pads' }).locator('.pad:not(.none)');
    await button('1').click();
    const expected = [...(await inLine(1)), ...(await inLine(3))].slice(0, 10);
    const labels = await row.evaluateAll((all) => all.map((one) => one.getAttribute('aria-label')));
    expect(labels.map((one) => one?.split(', ').slice(1).join(', '))).toEqual(
      expected.map((one) => one.toLowerCase()),
    );
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Escape');
  });

  it('reads on by keys beyond the lines in view', async () => {
    await words().first().focus();
    for (let i = 0; i < 4; i++) await page.keyboard.press('ArrowDown');
    const name = await page.evaluate(() => document.activeElement?.getAttribute('aria-label'));
    expect(name).toMatch(/^Line [3-9]/);
    await page.keyboard.press('Escape');
    await page.getByRole('scrollbar', { name: 'Lines in view' }).press('Home');
    // Scrolling is heard of a frame later; what comes next begins at the first line.
    await button('Line 1').waitFor();
  });
});

describe('by keys', () => {
  it('sets the lines closer and wider', async () => {
    await words().first().focus();
    const before = (await boxOf(words().first())).width;
    await page.keyboard.press('+');
    await page.keyboard.press('+');
    await expect
      .poll(async () => (await boxOf(words().first())).width)
      .toBeGreaterThan(before * 1.4);
    await page.keyboard.press('-');
    await page.keyboard.press('-');
    await expect.poll(async () => (await boxOf(words().first())).width).toBeCloseTo(before, 0);
  });

  it('plays what is chosen round and round', async () => {
    await button('Line 1').click();
    await page.keyboard.press('Shift+R');
    await expect.poll(() => button('take').getAttribute('aria-pressed')).toBe('true');
    await page.keyboard.press('Space');
    await expect.poll(() => button('take').getAttribute('aria-pressed')).toBe('false');
    await page.keyboard.press('Escape');
  });
});

describe('a cut', () => {
  const cuts = () =>
    page.getByRole('slider', { name: 'Fewer or more cuts' }).getAttribute('aria-valuetext');
  /** Where the cut between a word and the next stands, in CSS pixels. */
  const startOf = async (at: number) => (await boxOf(words().nth(at))).x;
  const wide = () => words().evaluateAll((all) => all.findIndex((word) => word.clientWidth > 100));

  it('is made where a word was pressed, at the mark that stands there', async () => {
    await page.keyboard.press('Escape');
    const at = await wide();
    const before = await cuts();
    const { x, y, width } = await boxOf(words().nth(at));
    await page.keyboard.down('Alt');
    await page.mouse.click(x + width * 0.6, y + 20);
    await page.keyboard.up('Alt');
    const mark = await boxOf(page.locator('.sheet-mark'));
    expect(Math.abs(mark.x + mark.width / 2 - (x + width * 0.6))).toBeLessThan(1);
    await button('split here').click();
    await undoes('split a slice').waitFor();
    expect(Math.abs((await startOf(at + 1)) - (x + width * 0.6))).toBeLessThan(2);
    expect(await page.locator('.step-name').first().textContent()).toBe('split a slice');
    await page.keyboard.press('Control+z');
    expect(await cuts()).toBe(before);
  });

  it('is made by a key where the mouse rests', async () => {
    await page.keyboard.press('Escape');
    const at = await wide();
    const { x, y, width } = await boxOf(words().nth(at));
    await page.mouse.move(x + width * 0.3 - 3, y + 25);
    await page.keyboard.down('Alt');
    await page.mouse.move(x + width * 0.3, y + 25);
    await page.keyboard.up('Alt');
    await page.keyboard.press('Shift+S');
    await undoes('split a slice').waitFor();
    expect(Math.abs((await startOf(at + 1)) - (x + width * 0.3))).toBeLessThan(2);
    await page.keyboard.press('Control+z');
    await page.mouse.move(2, 2);
  });

  it('is made with keys alone, at the mark that they move', async () => {
    const at = await wide();
    const id = await words().nth(at).getAttribute('data-slice');
    const word = page.locator(`[data-slice="${id}"]`);
    await word.focus();
    await page.keyboard.press('Alt+Period');
    const first = (await boxOf(page.locator('.sheet-mark'))).x;
    await page.keyboard.press('Alt+Period');
    const mark = await boxOf(page.locator('.sheet-mark'));
    expect(mark.x).toBeGreaterThan(first);
    await page.keyboard.press('Shift+S');
    await undoes('split a slice').waitFor();
    expect(Math.abs((await startOf(at + 1)) - (mark.x + mark.width / 2))).toBeLessThan(2);
    await page.keyboard.press('Control+z');
  });
});

describe('Space', () => {
  it('plays and stops whatever has the focus, but for a text', async () => {
    const take = button('take');
    const pressed = () => take.getAttribute('aria-pressed');
    const places = [
      button('projects'),
      page.getByRole('slider', { name: 'Fewer or more cuts' }),
      page.getByRole('scrollbar', { name: 'Lines in view' }),
      words().first(),
      page.locator('.sheet-words .beat').first(),
      page.locator('.pad').first(),
      page.getByRole('combobox', { name: 'choke group' }),
    ];
    for (const place of places) {
      await place.focus();
      await page.keyboard.press('Space');
      await expect.poll(pressed).toBe('true');
      await page.keyboard.press('Space');
      await expect.poll(pressed).toBe('false');
      if (place === places[5]) await place.press('Enter');
    }
    expect(await page.getByRole('dialog').count()).toBe(0);
    const title = page.getByRole('textbox', { name: 'Name of the project' });
    await title.focus();
    await title.press('End');
    await page.keyboard.press('Space');
    expect(await title.inputValue()).toBe('Slack Water ');
    expect(await pressed()).toBe('false');
    await page.keyboard.press('Escape');
    await page.keyboard.press('Escape');
  });
});

describe('in a sentence', () => {
  const tempo = () => page.getByRole('spinbutton', { name: 'tempo' });
  const says = async () => tempo().getAttribute('aria-valuetext');

  it('takes a typed value, steps by arrows, leaves it on Escape', async () => {
    await button('Line 1').click();
    await button('make a straight loop').click();
    await tempo().click();
    await page.keyboard.type('100');
    await page.keyboard.press('Enter');
    expect(await says()).toBe('100 bpm');
    await page.keyboard.press('ArrowUp');
    expect(await says()).toBe('101 bpm');
    await page.keyboard.type('93,5 bpm');
    await page.keyboard.press('Escape');
    expect(await says()).toBe('101 bpm');
    await tempo().fill('93,5');
    await page.keyboard.press('Enter');
    expect(await says()).toBe('93.5 bpm');
  });

  it('is dragged sideways, as one step', async () => {
    await page.keyboard.press('Escape');
    const before = await says();
    const { x, y } = await boxOf(tempo());
    await drag({ x: x + 10, y: y + 8 }, { x: x + 70, y: y + 8 });
    expect(Number.parseFloat((await says()) ?? '')).toBe(Number.parseFloat(before ?? '') + 10);
    await undoes('change the tempo').click();
    expect(await says()).toBe(before);
  });

  it('chooses from true lists', async () => {
    const grid = page.getByRole('combobox', { name: 'grid' });
    await grid.selectOption('8t');
    expect(await grid.inputValue()).toBe('8t');
    await undoes('change the grid').waitFor();
  });

  it('says "different" where pads differ, and makes them alike', async () => {
    await words().nth(0).focus();
    await page.keyboard.press('Shift+ArrowRight');
    const pitch = page.getByRole('spinbutton', { name: 'pitch in semitones' });
    await pitch.fill('2 lower');
    await page.keyboard.press('Enter');
    expect(await pitch.getAttribute('aria-valuetext')).toBe('2 semitones lower');
    await words().nth(0).focus();
    await page.keyboard.press('Home');
    await pitch.fill('3');
    await page.keyboard.press('Enter');
    await words().nth(0).focus();
    await page.keyboard.press('Shift+ArrowRight');
    expect(await pitch.getAttribute('aria-valuetext')).toBe('different');
    await page.keyboard.press('Control+z');
    await page.keyboard.press('Control+z');
  });
});

describe('between sheet, rows and lane', () => {
  it('carries a word to a pad, and pads to one another', async () => {
    // Of several chosen words all would come along.
    await page.keyboard.press('Escape');
    const word = await wideWord();
    const name = (await word.getAttribute('aria-label'))?.match(/slice \d+/)?.[0] ?? '';
    const from = await boxOf(word);
    const place = '3 6';
    const pad = page.locator(`[data-pad="${place}"]`);
    await pad.click();
    // Hearing may have left the last pad empty already.
    if (!(await pad.getAttribute('aria-label'))?.includes('empty')) await button('clear').click();
    expect(await pad.getAttribute('aria-label')).toContain('empty');
    const onto = await boxOf(pad);
    const middle = { x: from.x + from.width / 2, y: from.y + 30 };
    await drag(middle, { x: onto.x + 10, y: onto.y + 20 });
    const carried = page.locator(`[data-pad="${place}"]`);
    expect(await carried.getAttribute('aria-label')).toContain(`line 1, ${name}`);

    const full = await page.locator('.pad:not(.none)').first().getAttribute('data-pad');
    const first = page.locator(`[data-pad="${full}"]`);
    const before = await first.getAttribute('aria-label');
    const a = await boxOf(first);
    const b = await boxOf(carried);
    await drag({ x: a.x + 15, y: a.y + 20 }, { x: b.x + 15, y: b.y + 20 });
    await undoes('swap pads').waitFor();
    expect(await carried.getAttribute('aria-label')).toContain(
      before?.split(', ').slice(1).join(', '),
    );
  });

  it('carries a word to the lane, moves it along the grid, lengthens and removes it', async () => {
    await page.keyboard.press('Escape');
    await button('A new flip').click();
    const word = await wideWord();
    const from = await boxOf(word);
    const lane = await boxOf(page.locator('.lane-paper'));
    await drag(
      { x: from.x + from.width / 2, y: from.y + 30 },
      { x: lane.x + lane.width / 2, y: lane.y + 80 },
    );
    const placed = page.locator('.lane-word');
    expect(await placed.count()).toBe(1);
    const label = async () => (await placed.first().getAttribute('aria-label')) ?? '';
    const at = await label();
    await placed.first().focus();
    await page.keyboard.press('Alt+ArrowLeft');
    expect(await label()).not.toBe(at);
    await page.keyboard.press('Alt+ArrowRight');
    expect(await label()).toBe(at);
    const { x, y } = await boxOf(placed.first());
    await drag({ x: x + 8, y: y + 40 }, { x: x + 8 - lane.width / 4, y: y + 40 });
    await undoes('move on the lane').waitFor();
    await placed.first().focus();
    await page.keyboard.press('Alt+Shift+ArrowRight');
    await undoes('change a length').waitFor();
    await page.keyboard.press('Delete');
    expect(await placed.count()).toBe(0);
    await undoes('remove from the lane').click();
    expect(await placed.count()).toBe(1);
  });
});

describe('at every size', () => {
  it.each([
    [1366, 768],
    [1180, 820],
    [820, 1180],
  ])(
    'nothing runs over the edge at %i x %i, and nothing is lost on turning',
    async (width, height) => {
      const said = await page.locator('.said').first().textContent();
      await page.setViewportSize({ width, height });
      const over = await page.evaluate(() => ({
        page: document.documentElement.scrollWidth - innerWidth,
        pads: [...document.querySelectorAll('.pad')].filter(
          (pad) => pad.getBoundingClientRect().right > innerWidth,
        ).length,
      }));
      expect(over).toEqual({ page: 0, pads: 0 });
      expect(await page.locator('.said').first().textContent()).toBe(said);
      await page.setViewportSize({ width: 1366, height: 768 });
    },
  );
});
