import { readFile } from 'node:fs/promises';
import { inflateRawSync } from 'node:zlib';
import type { Download, Page } from 'playwright-core';
import { beforeAll, describe, expect, it } from 'vitest';
import { readZip } from '../../shared/pack/zip-read.ts';
import { sourceOf } from '../../shared/take/byte-source.ts';
import { readWav } from '../../shared/take/wav-read.ts';
import { useBuiltPage } from './built-page.ts';
import { holdAnswers } from './held-answers.ts';
import { shortTake } from './short-take.ts';

/** What leaves the page: options of the pack, files saved, shared and dragged out, work given up. */
const built = useBuiltPage();
let page: Page;
let errors: string[];

const button = (name: string | RegExp) => page.getByRole('button', { name, exact: true });
const choice = (name: string) => page.getByRole('combobox', { name, exact: true });
const written = (name: string) => page.getByRole('textbox', { name, exact: true });
const bytesOf = async (download: Download) => new Uint8Array(await readFile(await download.path()));
const write = async (name: string, text: string) => {
  await written(name).fill(text);
  await written(name).press('Enter');
};
const saved = async (name: string) => {
  const coming = page.waitForEvent('download');
  await button(name).click();
  return coming;
};

/** Puts a sheet to share in the page's hands, as a tablet has it; it remembers what it was given. */
function fakeSharing() {
  const given: { name: string; type: string; size: number }[] = [];
  let answer: 'yes' | 'later' = 'yes';
  Object.assign(window, {
    given,
    answerNext: (next: 'yes' | 'later') => {
      answer = next;
    },
  });
  // A folder of the page's own stands for one of the disk.
  Object.assign(window, { showDirectoryPicker: () => navigator.storage.getDirectory() });
  Object.assign(navigator, {
    canShare: ({ files }: { files: File[] }) => files.length > 0,
    share: async ({ files }: { files: File[] }) => {
      if (answer === 'later') {
        answer = 'yes';
        throw new DOMException('The press is too long ago.', 'NotAllowedError');
      }
      for (const { name, type, size } of files) given.push({ name, type, size });
    },
  });
}
const shared = () =>
  page.evaluate(
    () => (window as unknown as { given: { name: string; type: string; size: number }[] }).given,
  );

beforeAll(async () => {
  ({ page, errors } = await built.open({
    files: shortTake(),
    prepare: (fresh) => Promise.all([fresh.addInitScript(fakeSharing), holdAnswers(fresh)]),
  }));
  await page.locator('.sheet-words .slice').first().waitFor();
  await page.locator('.sheet-words .line').first().click();
  await button('make a straight loop').click();
  await page.getByText('seam: ').first().waitFor();
});

describe('a loop', () => {
  it('is saved in two presses, as finely as the take is stored', async () => {
    await button('save').click();
    const download = await saved('Save the loop');
    expect(download.suggestedFilename()).toMatch(/^Ebb mix straight \d+bpm .*mix\.wav$/);
    expect(readWav(await bytesOf(download), 'loop').bits).toBe(16);
    // The button could not be pressed meanwhile; the focus is with it again.
    await expect
      .poll(() => page.evaluate(() => document.activeElement?.textContent))
      .toBe('Save the loop');
  });

  it('is saved by keys alone: Ctrl S, Enter', async () => {
    await page.keyboard.press('Escape');
    await page.keyboard.press('Control+S');
    await page.getByRole('dialog').waitFor();
    const coming = page.waitForEvent('download');
    await page.keyboard.press('Enter');
    await coming;
  });

  it('can be dragged out as a file, and the link itself saves it', async () => {
    const link = page.locator('a.carry');
    await link.waitFor();
    const seen = await link.evaluate((element) => {
      const transfer = new DataTransfer();
      element.dispatchEvent(new DragEvent('dragstart', { dataTransfer: transfer, bubbles: true }));
      const text = transfer.getData('DownloadURL');
      const [, type, name, address] = /^([^:]+):([^:]+):(.+)$/.exec(text) ?? [];
      const files = [...transfer.files].map((file) => [file.name, file.type, file.size]);
      return { type, name, own: address === element.getAttribute('href'), files };
    });
    expect(seen.type).toBe('audio/wav');
    expect(seen.name).toMatch(/^Ebb mix straight .*\.wav$/);
    expect(seen.own).toBe(true);
    const coming = page.waitForEvent('download');
    await link.click();
    const bytes = await bytesOf(await coming);
    expect(seen.files).toEqual([[seen.name, 'audio/wav', bytes.length]]);
    const again = await bytesOf(await saved('Save the loop'));
    expect(Buffer.compare(bytes, again)).toBe(0);
  });

  it('goes to the sheet to share, with its stems where that is wished', async () => {
    await choice('stems').selectOption('with');
    await button('Share the loop').click();
    await page.waitForFunction(
      () => (window as unknown as { given: unknown[] }).given.length === 3,
    );
    const files = await shared();
    expect(files.map((file) => file.type)).toEqual(Array(3).fill('audio/wav'));
    for (const part of ['mix', 'Harp', 'Low'])
      expect(files.some((file) => file.name.endsWith(` ${part}.wav`))).toBe(true);
    await choice('stems').selectOption('without');
  });

  it('asks for one press more where making it took longer than a press lasts', async () => {
    await page.evaluate(() =>
      (window as unknown as { answerNext: (next: string) => void }).answerNext('later'),
    );
    await button('Share the loop').click();
    await button('Share it now').click();
    await page.waitForFunction(
      () => (window as unknown as { given: unknown[] }).given.length === 4,
    );
    await button('Share the loop').waitFor();
  });
});

describe('the pack', () => {
  it('is as it was wished, and the command would read the same wishes', async () => {
    await choice('sample format').selectOption('32f');
    await choice('sample rate').selectOption('48000');
    await choice('how loud loops are').selectOption('-18');
    await choice('which slices are packed').selectOption('stems');
    await choice('how the zip is packed').selectOption('stored');
    await write('title of the pack', 'Low Tide');
    await write('artist', 'Ada');
    await page.locator('summary').click();
    await written('Credits').fill('Played by Ada\nand Bas');
    await written('Terms').fill('Ask first');
    await write('name of loops', '{lane} {nonsense}');
    await page.getByText('{nonsense} stands for nothing here').waitFor();
    await write('name of loops', '{stem} {bpm}');
    await page.getByText('As in: mix').waitFor();
    const files = readZip(sourceOf(await bytesOf(await saved('Save the pack'))), 'pack', (bytes) =>
      inflateRawSync(bytes),
    );
    const text = (name: string) =>
      new TextDecoder().decode(files.get(`Low Tide/${name}`)?.bytes() ?? new Uint8Array());
    const manifest = JSON.parse(text('manifest.json'));
    expect(manifest).toMatchObject({ name: 'Low Tide', artist: 'Ada' });
    const [lane] = manifest.lanes;
    expect(lane.files[0]).toMatchObject({ sampleRate: 48000, bits: '32f' });
    expect(lane.files[0].loudness.integrated).toBeCloseTo(-18, 1);
    expect(lane.files[1].file).toBe(`loops/straight/Harp ${lane.bpm}.wav`);
    expect(manifest.slices[0].files).toHaveLength(3);
    expect(manifest.stems.every((stem: { tuning: unknown }) => stem.tuning !== null)).toBe(true);
    expect(text('credits.txt')).toContain('Played by Ada\r\nand Bas');
    expect(text('credits.txt')).toContain('Ask first');

    const project = readZip(
      sourceOf(await bytesOf(await saved('Save the project file'))),
      'project',
      (bytes) => inflateRawSync(bytes),
    );
    const document = JSON.parse(
      new TextDecoder().decode(project.get('project.json')?.bytes() ?? new Uint8Array()),
    );
    expect(document.pack).toEqual({
      bits: '32f',
      sampleRate: 48000,
      loudness: -18,
      stemSlices: true,
      packing: 'stored',
      title: 'Low Tide',
      artist: 'Ada',
      credits: 'Played by Ada\nand Bas',
      terms: 'Ask first',
      loopName: '{stem} {bpm}',
    });
  });

  it('is one step back for each wish', async () => {
    await page.keyboard.press('Escape');
    await button('Undo: change how loops are named').click();
    await button('Undo: change the terms').click();
    await button('save').click();
    await page.locator('summary').click();
    expect(await written('Terms').inputValue()).toBe('');
    expect(await written('Credits').inputValue()).toBe('Played by Ada\nand Bas');
    expect(await written('name of loops').inputValue()).toBe('');
    for (const [name, plain] of [
      ['sample format', ''],
      ['sample rate', ''],
      ['which slices are packed', 'mix'],
      ['how the zip is packed', 'texts'],
    ] as const)
      await choice(name).selectOption(plain);
  });

  it('goes into a folder of the disk, and beside one of its name', async () => {
    const list = () =>
      page.evaluate(async () => {
        const found: Record<string, number> = {};
        const walk = async (folder: FileSystemDirectoryHandle, path: string): Promise<void> => {
          for await (const [name, handle] of folder.entries())
            if (handle.kind === 'directory')
              await walk(handle as FileSystemDirectoryHandle, `${path}${name}/`);
            else found[path + name] = (await (handle as FileSystemFileHandle).getFile()).size;
        };
        await walk(await navigator.storage.getDirectory(), '');
        return found;
      });
    await button('Save it as a folder').click();
    await page.getByText('Saved in the folder Low Tide.').waitFor({ state: 'attached' });
    const files = await list();
    expect(files['Low Tide/take/Ebb mix.wav']).toBe(shortTake()[0].buffer.length);
    for (const name of ['manifest.json', 'report.html', 'take/tempo map.mid'])
      expect(files[`Low Tide/${name}`]).toBeGreaterThan(100);
    expect(
      Object.keys(files).filter((name) => /^Low Tide\/loops\/.*\.wav$/.test(name)),
    ).toHaveLength(3);
    expect(Object.keys(files).some((name) => name.endsWith('.crswap'))).toBe(false);

    // Given up, nothing is left of the second.
    await page.evaluate(() => window.holdAnswer('packInto'));
    await button('Save it as a folder').click();
    const dialog = page.getByRole('dialog');
    // In the page itself, as soon as something is in the folder: by the time a hand comes from here much more is.
    await page.evaluate(async () => {
      const folder = await navigator.storage.getDirectory();
      const begun = async () => {
        const pack = await folder.getDirectoryHandle('Low Tide 2').catch(() => null);
        return pack !== null && !(await pack.keys().next()).done;
      };
      while (!(await begun()));
      document.querySelector<HTMLElement>('.leaf-doing button')?.click();
    });
    await dialog.getByRole('progressbar').waitFor({ state: 'detached' });
    expect(Object.keys(await list()).filter((name) => name.startsWith('Low Tide 2'))).toEqual([]);
  });

  it('can be given up, and made again for the sheet to share', async () => {
    let downloads = 0;
    const count = () => {
      downloads += 1;
    };
    page.on('download', count);
    // However long it takes, it is given up when it is whole and not yet handed over.
    await page.evaluate(() => window.holdAnswer('pack'));
    await button('Save the pack').click();
    const dialog = page.getByRole('dialog');
    await dialog.getByRole('progressbar').waitFor();
    await page.waitForFunction(() => window.answerCame('pack'));
    await dialog.getByRole('button', { name: 'cancel' }).click();
    await dialog.getByRole('progressbar').waitFor({ state: 'detached' });
    expect(downloads).toBe(0);
    page.off('download', count);
    await button('Share the pack').click();
    await page.waitForFunction(
      () => (window as unknown as { given: unknown[] }).given.length === 5,
    );
    expect((await shared()).at(-1)).toMatchObject({
      name: 'Low Tide pack.zip',
      type: 'application/zip',
    });
  });
});

it('said nothing that is an error', () => {
  expect(errors).toEqual([]);
});
