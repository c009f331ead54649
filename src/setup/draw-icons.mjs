/**
 * Draws the page's mark into public/ as PNG: `node src/setup/draw-icons.mjs`. Needed only when the mark
 * changes; it runs the system's Chromium, which paints the SVG.
 */
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

const paper = '#f5f2ea';
const ink = '#191f2b';
const accent = '#ad3218';

/** A word of sound with its landing: an attack, its tail, and the stroke under it, all from one pen. */
export function mark({ inset = 0, round = 14 } = {}) {
  const heights = [5, 9, 36, 30, 24, 19, 15, 12, 9, 7, 5];
  const scale = (64 - 2 * inset) / 64;
  const strokes = heights
    .map((height, i) => {
      const x = 12 + i * 4;
      return `<path d="M${x} ${28 - height / 2}v${height}" stroke="${i < 2 ? accent : ink}"/>`;
    })
    .join('');
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 64 64"><title>Unclicked</title><rect width="64" height="64" rx="${round}" fill="${paper}"/><g transform="translate(${inset} ${inset}) scale(${scale})" fill="none" stroke-width="2.4" stroke-linecap="round">${strokes}<path d="M20 50v6" stroke="${ink}" stroke-width="3"/></g></svg>\n`;
}

const folder = join(import.meta.dirname ?? '.', '../../public');
writeFileSync(join(folder, 'mark.svg'), mark());

const browser = await chromium.launch({
  executablePath: process.env.UNCLICKED_CHROMIUM ?? '/usr/bin/chromium',
  args: ['--no-sandbox'],
});
const page = await browser.newPage();
for (const [name, size, options] of [
  ['icon-192.png', 192, {}],
  ['icon-512.png', 512, {}],
  // A maskable icon keeps what counts inside a circle of 80 % (W3C Web Application Manifest, safe zone).
  ['icon-maskable-512.png', 512, { inset: 9, round: 0 }],
]) {
  await page.setViewportSize({ width: size, height: size });
  await page.setContent(
    `<style>*{margin:0}svg{display:block;width:${size}px;height:${size}px}</style>${mark(options)}`,
  );
  await page.screenshot({ path: join(folder, name), omitBackground: true });
}
await browser.close();
