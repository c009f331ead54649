/** Text made safe inside HTML and SVG, attributes too. */
export function escapeText(text: string): string {
  return text
    .replace(/\p{Cc}/gu, ' ')
    .replaceAll('&', '&amp;')
    .replaceAll('<', '&lt;')
    .replaceAll('>', '&gt;')
    .replaceAll('"', '&quot;')
    .replaceAll("'", '&#39;');
}

/** Size of every picture of the report, in units of its view box. */
export const pictureWidth = 720;

/** A picture with its title, which is its name for those who don't see it. */
export function picture(title: string, height: number, content: string): string {
  return `<svg role="img" viewBox="0 0 ${pictureWidth} ${height}" width="100%"><title>${escapeText(title)}</title>${content}</svg>`;
}

/** Coordinates to a tenth: finer is never seen, and makes large files. */
export function c(value: number): string {
  return String(Math.round(value * 10) / 10);
}

export function line(x1: number, y1: number, x2: number, y2: number, kind: string): string {
  return `<line x1="${c(x1)}" y1="${c(y1)}" x2="${c(x2)}" y2="${c(y2)}" class="${kind}"/>`;
}

export function label(
  x: number,
  y: number,
  text: string,
  anchor: 'start' | 'middle' | 'end',
): string {
  return `<text x="${c(x)}" y="${c(y)}" text-anchor="${anchor}">${escapeText(text)}</text>`;
}

/** Round steps of a scale: about `count` of them, each 1, 2 or 5 times a power of ten. */
export function ticks(from: number, until: number, count: number): number[] {
  const rough = (until - from) / count;
  if (!(rough > 0)) return [from];
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = power * ([1, 2, 5, 10].find((m) => m * power >= rough) ?? 10);
  const marks: number[] = [];
  for (let v = Math.ceil(from / step) * step; v <= until + step * 1e-9; v += step)
    marks.push(Math.round(v / step) * step);
  return marks;
}
