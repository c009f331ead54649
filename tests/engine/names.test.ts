import fc from 'fast-check';
import { expect, test } from 'vitest';
import { defaultTemplates, fillTemplate, safeName, uniqueNames } from '../../shared/pack/names.ts';
import { loopWords, sliceWords, templateProblem } from '../../shared/pack/pack-wishes.ts';

/*
 * What file systems refuse: Microsoft, "Naming Files, Paths, and Namespaces"; POSIX `/` and NUL.
 */
const refused = /[/\\:*?"<>|\p{Cc}]/u;
const devices = /^(con|prn|aux|nul|com\d|lpt\d)(\..*)?$/i;

const anyText = fc.string({ unit: 'binary', maxLength: 200 });

test('any text becomes a name that every file system takes', () => {
  fc.assert(
    fc.property(anyText, (wish) => {
      const name = safeName(wish);
      expect(name).not.toMatch(refused);
      expect(name).not.toMatch(devices);
      expect(name).not.toMatch(/^[ .]|[ .]$/);
      expect(name.length).toBeGreaterThan(0);
      expect(new TextEncoder().encode(name).length).toBeLessThanOrEqual(121);
      expect(name.isWellFormed()).toBe(true);
      expect(name).toBe(name.normalize('NFC'));
      expect(safeName(name)).toBe(name);
    }),
    { seed: 1, numRuns: 500 },
  );
});

test.each([
  ['A/B: C?', 'A-B- C-'],
  ['con', '_con'],
  ['LPT1.wav', '_LPT1.wav'],
  ['  ..hidden. ', 'hidden'],
  ['', '_'],
  ['e\u0301tude', '\u00e9tude'],
  ['../../etc/passwd', '-..-etc-passwd'],
  ['a\u202egnp.wav', 'a-gnp.wav'],
])('%j is called %j', (wish, name) => {
  expect(safeName(wish)).toBe(name);
});

test('a take with a long name leaves room for what its files are', () => {
  const values = { lane: 'flip A', bpm: 92, key: 'Eb', bars: 4 };
  const named = (take: string, stem: string) =>
    fillTemplate(defaultTemplates.loop, { ...values, take, stem });
  const long = 'The second take of an evening in the large hall '.repeat(5);
  expect(named(long, 'Bass')).toMatch(/^The second take .* flip A 92bpm Eb 4bars Bass$/);
  expect(named('ערב ארוך מאוד '.repeat(20), 'Bass')).toMatch(/^ערב ארוך .* 4bars Bass$/);
  // Two long ones share the room.
  expect(named(long, 'Clarinet '.repeat(20))).toMatch(/^The second .* 4bars Clarinet Clarinet/);
  for (const name of [named(long, 'Bass'), named('🎹'.repeat(200), 'Bass')])
    expect(new TextEncoder().encode(name).length).toBeLessThanOrEqual(120);
  expect(fillTemplate('x'.repeat(300), {})).toBe('x'.repeat(120));
});

test('no two names are alike, capitals or not, and endings stay', () => {
  fc.assert(
    fc.property(
      fc.array(fc.oneof(anyText, fc.constantFrom('a.wav', 'A.WAV', 'a 2.wav', 'ä.wav'))),
      (wishes) => {
        const names = uniqueNames(wishes);
        expect(names.length).toBe(wishes.length);
        expect(new Set(names.map((name) => name.normalize('NFKD').toLowerCase())).size).toBe(
          names.length,
        );
      },
    ),
    { seed: 2, numRuns: 200 },
  );
  expect(uniqueNames(['a.wav', 'A.wav', 'a 2.wav', 'a.wav'])).toEqual([
    'a.wav',
    'A 2.wav',
    'a 2 2.wav',
    'a 3.wav',
  ]);
});

test('a template says what is wrong with it', () => {
  for (const good of [defaultTemplates.loop, '{bpm}', 'x {stem}'])
    expect(templateProblem(good, loopWords)).toBeNull();
  expect(templateProblem(defaultTemplates.slice, sliceWords)).toBeNull();
  expect(templateProblem('{line}', loopWords)).toMatch(/^\{line\} stands for nothing.*\{bars\}/);
  expect(templateProblem('{bpm', loopWords)).toMatch(/brace is open/);
  expect(templateProblem('loop', loopWords)).toMatch(/one name/);
  expect(templateProblem(`{bpm}${'x'.repeat(200)}`, loopWords)).toMatch(/at most 200/);
});

test('a template takes values, and what has none leaves no gap', () => {
  const values = {
    take: 'Slack Water',
    lane: 'flip A',
    bpm: 93.7,
    key: 'Ebm',
    bars: 4,
    stem: 'mix',
  };
  expect(fillTemplate(defaultTemplates.loop, values)).toBe(
    'Slack Water flip A 93.7bpm Ebm 4bars mix',
  );
  expect(fillTemplate(defaultTemplates.loop, { ...values, key: '' })).toBe(
    'Slack Water flip A 93.7bpm 4bars mix',
  );
  expect(fillTemplate('{nothing}', values)).toBe('_');
});
