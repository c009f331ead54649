import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { home, install, program, run } from './install.mjs';

// `npm run bench NAME`: one benchmark, printed as a table with its goals. They are no tests: times on a
// busy machine prove nothing, ratios inside one run do.
install();
const [name, ...rest] = process.argv.slice(2);
const names = readdirSync(join(home, 'tests', 'bench'))
  .filter((file) => /^[a-z]+\.ts$/.test(file))
  .map((file) => file.slice(0, -3));
if (!names.includes(name)) {
  console.error(`Say which benchmark: npm run bench ${names.join(' | ')}`);
  process.exit(2);
}
process.exit(run(program('tsx'), [join('tests', 'bench', `${name}.ts`), ...rest]));
