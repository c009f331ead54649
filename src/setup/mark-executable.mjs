import { chmodSync } from 'node:fs';
import { join } from 'node:path';
import { home } from './install.mjs';

// The bundler writes plain files; `npx unclicked` wants to run this one.
chmodSync(join(home, 'dist', 'cli.js'), 0o755);
