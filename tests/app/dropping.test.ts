import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { useBuiltPage } from './built-page.ts';
import { shortTake } from './short-take.ts';

/** Folders dropped on the page, as a file manager does it. */
const built = useBuiltPage();
let folder: string;
const write = (path: string, bytes: Buffer | string) => {
  mkdirSync(dirname(join(folder, path)), { recursive: true });
  writeFileSync(join(folder, path), bytes);
};

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'unclicked-drop-'));
  const [mix, ...stems] = shortTake();
  write('Ebb/Ebb mix.wav', mix?.buffer ?? '');
  // Of each file on a disk of another system some write a shadow beside it.
  write('Ebb/._Ebb mix.wav', 'shadow');
  write('Ebb/notes.txt', 'second half');
  for (const { name, buffer } of stems) write(`Ebb/stems/${name}`, buffer);
  write('empty/notes.txt', 'nothing here');
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

async function drop(page: Page, ...paths: string[]): Promise<void> {
  const session = await page.context().newCDPSession(page);
  const data = { items: [], files: paths.map((path) => join(folder, path)), dragOperationsMask: 1 };
  for (const type of ['dragEnter', 'dragOver', 'drop'] as const)
    await session.send('Input.dispatchDragEvent', { type, x: 300, y: 300, data });
}

it('a folder is opened with what lies in it: the take and its stems', async () => {
  const { page, errors } = await built.open();
  await drop(page, 'Ebb');
  await page.locator('.sheet-words .slice').first().waitFor();
  expect(await page.getByRole('textbox', { name: 'Name of the project' }).inputValue()).toBe(
    'Ebb mix',
  );
  await page.getByRole('button', { name: 'listening', exact: true }).click();
  const names = page.getByRole('dialog').getByRole('textbox', { name: /^name of / });
  await expect
    .poll(() => names.evaluateAll((all) => all.map((one) => (one as HTMLInputElement).value)))
    .toEqual(['Harp', 'Low']);
  expect(errors).toEqual([]);
  await page.context().close();
});

it('a file that is no recording is left out and told, and the rest is opened', async () => {
  const { page, errors } = await built.open();
  await drop(page, 'Ebb/notes.txt', 'Ebb/Ebb mix.wav');
  await page.locator('.sheet-words .slice').first().waitFor();
  await page.getByText('notes.txt is no recording, so it was left out.').waitFor();
  expect(await page.getByRole('textbox', { name: 'Name of the project' }).inputValue()).toBe(
    'Ebb mix',
  );
  expect(errors).toEqual([]);
  await page.context().close();
});

it('a folder without a recording is told in a sentence', async () => {
  const { page, errors } = await built.open();
  await drop(page, 'empty');
  await page.getByRole('alert').getByText('No recording lies in that folder').waitFor();
  expect(errors).toEqual([]);
  await page.context().close();
});
