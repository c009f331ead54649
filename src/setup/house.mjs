import { readdirSync, readFileSync } from 'node:fs';
import { dirname, join, relative, resolve, sep } from 'node:path';
import { home } from './install.mjs';

/**
 * The rule of the house: data flows one way, so imports do too. A room of the engine imports from
 * itself and from rooms to its left; programs import the engine, never the other way round.
 */
const rooms = ['math', 'take', 'hear', 'time', 'cut', 'warp', 'loop', 'pack'];
const engine = (room) => `shared/${room}`;
const allowed = Object.fromEntries(
  rooms.map((room, i) => [engine(room), rooms.slice(0, i + 1).map(engine)]),
);
const shared = rooms.map(engine);
Object.assign(allowed, {
  demo: ['demo', ...shared],
  'src/store': ['src/store', ...shared],
  'src/sound': ['src/sound', 'src/store', ...shared],
  'src/work': ['src/work', 'src/store', 'demo', ...shared],
  'src/app': ['src/app', 'src/store', 'src/sound', 'src/work', 'demo', ...shared],
  'src/cli': ['src/cli', 'src/store', 'demo', ...shared],
});

const files = (folder) =>
  readdirSync(join(home, folder), { recursive: true, withFileTypes: true })
    .filter((entry) => entry.isFile() && /\.tsx?$/.test(entry.name))
    .map((entry) => join(entry.parentPath ?? entry.path, entry.name));

/** Within a room its folders follow one another in the same way; files beside them may use them all (`after`) or none. */
const floors = {
  'shared/hear': { folders: ['onsets', 'beats', 'pitch', 'phrases', 'loudness'], after: false },
  'shared/warp': { folders: ['bands', 'plan', 'stretch'], after: true },
};

/** Where a file stands among the folders of its room: a number that imports may not rise above. */
const floorOf = (room, file) => {
  const { folders, after } = floors[room];
  const folder = relative(join(home, room), file).split(sep);
  if (folder.length === 1) return after ? folders.length : -1;
  return folders.indexOf(folder[0]);
};

/** The room a file stands in, or undefined for a file outside all rooms. */
const roomOf = (file) => {
  const path = relative(home, file).split(sep);
  return path[0] === 'demo' ? 'demo' : `${path[0]}/${path[1]}`;
};

const broken = [];
for (const file of ['shared', 'src', 'demo'].flatMap(files)) {
  const room = roomOf(file);
  const may = allowed[room];
  if (!may) {
    if (/^(shared|src)\/[^/]+\.tsx?$/.test(room)) broken.push(`${room} stands in no room`);
    continue;
  }
  const text = readFileSync(file, 'utf8');
  const imports = [
    ...text.matchAll(/^(?:import|export)\s(?:[^;'"]*?\sfrom\s)?\s*['"]([^'"]+)['"]/gm),
    ...text.matchAll(/\bimport\(\s*['"]([^'"]+)['"]/g),
  ];
  for (const [, from] of imports) {
    const here = relative(home, file);
    if (!from.startsWith('.')) {
      if (room.startsWith('shared/'))
        broken.push(`${here} imports ${from}: the engine stands alone`);
      continue;
    }
    const imported = resolve(dirname(file), from.replace(/\?.*$/, ''));
    const target = roomOf(imported);
    if (!may.includes(target))
      broken.push(`${here} imports ${from}: ${room} may not look into ${target}`);
    else if (target === room && room in floors && floorOf(room, imported) > floorOf(room, file))
      broken.push(`${here} imports ${from}: it stands further on in ${room}`);
  }
}
if (broken.length > 0) {
  console.error(`The house rule is broken:\n${broken.map((line) => `  ${line}`).join('\n')}`);
  process.exit(1);
}
