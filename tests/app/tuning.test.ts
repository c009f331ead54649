import { AxeBuilder } from '@axe-core/playwright';
import type { Page } from 'playwright-core';
import { beforeAll, describe, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** Tuning by what is heard: pads and words of the lane brought to the key and to A 440. */
const built = useBuiltPage();
let page: Page;
let errors: string[];

/** The take is played this many cents sharp. */
const sharp = 14;

const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const value = (name: string) => page.getByRole('spinbutton', { name, exact: true });
const figures = async () => [
  Number(await value('pitch in semitones').getAttribute('aria-valuenow')),
  Number(await value('tuning in cents').getAttribute('aria-valuenow')),
];

beforeAll(async () => {
  ({ page, errors } = await built.open({ files: shortTake(sharp) }));
  await page.locator('.sheet-words .slice').first().waitFor();
});

describe('a chosen pad', () => {
  it('is brought to the nearest note of the key, in one step that can be taken back', async () => {
    await page.locator('.pad:not(.none)').nth(1).click();
    const semitones = value('pitch in semitones');
    await semitones.fill('3');
    await semitones.press('Enter');
    await button('bring to the key').click();
    await button('Undo: bring to the key').waitFor();
    await page.getByText(/^Brought to [A-G][b#]?\d: /).waitFor({ state: 'attached' });
    // The take's notes are of its own key and tuning, so that next to nothing is left to move.
    const [steps, cents] = await figures();
    expect(Math.abs(steps)).toBeLessThanOrEqual(1);
    expect(Math.abs(steps * 100 + cents)).toBeLessThanOrEqual(110);
    await button('Undo: bring to the key').click();
    expect(await figures()).toEqual([3, 0]);
  });

  it('goes to A 440 by as much as the take is off, whole semitones staying', async () => {
    await button('to A 440').click();
    await button('Undo: bring to A440').waitFor();
    await page.getByText(/^Brought to A 440: /).waitFor({ state: 'attached' });
    const [steps, cents] = await figures();
    expect(steps).toBe(3);
    // How well a tuning is heard is tested in the engine; on so short a take it may be a few cents off.
    expect(Math.abs(cents + sharp)).toBeLessThanOrEqual(6);
    await button(/^Undo: /).click();
  });
});

it('words of the lane are brought there too, all that are chosen at once', async () => {
  await button('A new flip').click();
  for (const i of [1, 3]) {
    await page.locator('.sheet-words .slice').nth(i).click();
    await button('set on the lane').click();
  }
  const words = page.locator('.lane-word');
  await words.first().click();
  await words.nth(1).click({ modifiers: ['Shift'] });
  await value('pitch in semitones').fill('-5');
  await value('pitch in semitones').press('Enter');
  await button('bring to the key').click();
  await page
    .getByText(/^(Two slices|One slice) brought to |^Brought to /)
    .waitFor({ state: 'attached' });
  await button('Undo: bring to the key').click();
  expect((await figures())[0]).toBe(-5);
});

describe('the tuner', () => {
  const notes = () => page.locator('.tuner-note');

  it('shows a stem note by note, and says it in a sentence', async () => {
    await page.keyboard.press('Escape');
    await page.keyboard.press('Shift+U');
    await page.getByRole('dialog').waitFor();
    const said = page.getByRole('dialog').getByRole('status').first();
    await page.getByText(/Most of it \d+ cents sharp, half of it within/).waitFor();
    const usual = Number(/Most of it (\d+) cents/.exec((await said.textContent()) ?? '')?.[1]);
    expect(Math.abs(usual - sharp)).toBeLessThanOrEqual(2);
    expect(await notes().count()).toBeGreaterThan(8);
    const first = await notes().first().getAttribute('aria-label');
    expect(first).toMatch(/^[A-G][b#]?\d, \d+ cents sharp, at 0:0\d\.\d$/);
  });

  it('is walked through with arrows and plays what is pressed', async () => {
    await notes().first().focus();
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('ArrowRight');
    const at = await notes().evaluateAll((all) => all.findIndex((one) => one.matches(':focus')));
    expect(at).toBe(2);
    expect(await page.locator('.tuner-note[tabindex="0"]').count()).toBe(1);
    await page.keyboard.press('Enter');
    await page.getByText(/^[A-G][b#]?\d at 0:0\d: \d+ cents sharp, for/).waitFor();
  });

  it('measures against the take itself, where it is in tune', async () => {
    await page.getByRole('combobox', { name: 'what it is measured against' }).selectOption('own');
    await page
      .getByText(/Most of it (in tune|[1-6] cents? (flat|sharp))|All of it in tune/)
      .waitFor();
  });

  it('looks at the other stem, the whole take, and at what is chosen alone', async () => {
    const before = await notes().count();
    await page.getByRole('combobox', { name: 'what is looked at' }).selectOption({ label: 'Low' });
    await page.waitForFunction((before) => {
      const now = document.querySelectorAll('.tuner-note').length;
      return now > 0 && now < before;
    }, before);
    await page.keyboard.press('Escape');
    await page.locator('.sheet-words .slice').nth(2).click();
    await page.keyboard.press('Shift+U');
    await notes().first().waitFor();
    expect(await notes().count()).toBeLessThanOrEqual(3);
    await page.getByRole('combobox', { name: 'how much of it' }).selectOption('all');
    await page.waitForFunction(() => document.querySelectorAll('.tuner-note').length > 5);
  });

  it('breaks no rule of WCAG 2.2 A or AA (axe-core, Deque)', async () => {
    const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
    // Notes stand as close as they were played (2.5.8, exception "equivalent": arrows reach each).
    const { violations } = await new AxeBuilder({ page })
      .include('dialog')
      .withTags(tags)
      .disableRules('target-size')
      .analyze();
    expect(violations.map(({ id, nodes }) => `${id} ${nodes[0]?.html}`)).toEqual([]);
    await page.keyboard.press('Escape');
  });
});

it('said nothing that is an error', () => {
  expect(errors).toEqual([]);
});
