/**
 * Compiles kernels/ and writes shared/math/kernel-bytes.ts, which is kept in the repository: nobody
 * needs the compiler to build or test. Run it after a change in kernels/:
 *
 *   npx --yes --package assemblyscript@0.28.20 -- node src/setup/build-kernels.mjs
 */
import { spawnSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { home } from './install.mjs';

const folder = mkdtempSync(join(tmpdir(), 'unclicked-kernels-'));
const binary = join(folder, 'kernels.wasm');
const options = ['-O3', '--converge', '--noAssert', '--runtime', 'stub', '--enable', 'simd'];
const { status } = spawnSync(
  'asc',
  [join(home, 'kernels/index.ts'), ...options, '--initialMemory', '4', '-o', binary],
  { stdio: 'inherit', shell: process.platform === 'win32' },
);
if (status !== 0) process.exit(status ?? 1);
const text = readFileSync(binary).toString('base64');
const lines = text.match(/.{1,96}/g).map((line) => `  '${line}'`);
writeFileSync(
  join(home, 'shared/math/kernel-bytes.ts'),
  `// Written by src/setup/build-kernels.mjs from kernels/; not for editing.\n\nexport const KERNEL_BYTES = /* @__PURE__ */ [\n${lines.join(',\n')},\n].join('');\n`,
);
rmSync(folder, { recursive: true });
