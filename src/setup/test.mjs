import { existsSync, mkdirSync, readFileSync, rmSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { home, install, program, run } from './install.mjs';

// Everything, in one go, on a machine that has Node and nothing else. Each step counts like a test, so
// that a house rule or a type error can't hide behind green units. Arguments name test files to run alone.
install();

let passed = 0;
let failed = 0;
const step = (name, command, args) => {
  console.log(`\n- ${name}`);
  if (run(command, args) === 0) passed += 1;
  else failed += 1;
};

const only = process.argv.slice(2);
if (only.length === 0) step('format and lint', program('biome'), ['check', '.']);
step('house, types and build', 'npm', ['run', '--silent', 'build']);

console.log('\n- tests');
const report = join(home, 'node_modules', '.cache', 'unclicked', 'tests.json');
mkdirSync(dirname(report), { recursive: true });
rmSync(report, { force: true });
const status = run(program('vitest'), [
  'run',
  '--config=tests/vitest.config.ts',
  '--reporter=default',
  '--reporter=json',
  `--outputFile.json=${report}`,
  ...only,
]);
if (existsSync(report)) {
  const result = JSON.parse(readFileSync(report, 'utf8'));
  passed += result.numPassedTests;
  // A file that does not even load has no tests to fail; a skipped test is no passed one.
  const broken = result.testResults.filter(
    (file) => file.status === 'failed' && file.assertionResults.length === 0,
  );
  failed += result.numFailedTests + broken.length;
  if (status !== 0 && result.numFailedTests + broken.length === 0) failed += 1;
} else failed += 1;

console.log(`\n${passed} passed, ${failed} failed`);
process.exit(failed === 0 ? 0 : 1);
