import { expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** Words that are set on a flip one after the other. */
const built = useBuiltPage();

it('take as many beats of the lane as the players gave them, in whatever tempo', async () => {
  const { page, errors } = await built.open({ files: shortTake() });
  const button = (name: string) => page.getByRole('button', { name, exact: true });
  const words = page.locator('.sheet-words .slice');
  await words.first().waitFor();
  await button('A new flip').click();
  // Half as quick as it was played: what lasts two beats lasts two beats.
  const tempo = page.getByRole('spinbutton', { name: 'tempo', exact: true });
  await tempo.fill('60');
  await tempo.press('Enter');
  const beats = Number(
    await page.getByRole('spinbutton', { name: 'bars' }).getAttribute('aria-valuenow'),
  );
  const metre = Number(
    (await page.getByRole('combobox', { name: 'metre' }).inputValue()).split('/')[0],
  );
  for (const at of [0, 1]) {
    await words.nth(at).click({ position: { x: 8, y: 30 } });
    await button('set on the lane').click();
  }
  const places = await page.locator('.lane-word').evaluateAll((all) => {
    const paper = document.querySelector('.lane-paper')?.getBoundingClientRect();
    return all.map((one) => {
      const { left, width } = one.getBoundingClientRect();
      const share = 1 / (paper?.width ?? 1);
      return [(left - (paper?.left ?? 0)) * share, width * share];
    });
  });
  const inBeats = places.map((place) => place.map((share) => share * beats * metre));
  expect(inBeats[0]?.[0]).toBeCloseTo(0, 0);
  expect(inBeats[0]?.[1]).toBeGreaterThan(1.8);
  expect(inBeats[0]?.[1]).toBeLessThan(2.1);
  expect(Math.abs((inBeats[1]?.[0] ?? 0) - 2)).toBeLessThan(0.1);
  expect(errors).toEqual([]);
  await page.context().close();
});
