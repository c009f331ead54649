import { createReadStream, statSync } from 'node:fs';
import { createServer } from 'node:http';
import { extname, join, normalize, sep } from 'node:path';

const types = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.json': 'application/json',
  '.webmanifest': 'application/manifest+json',
  '.wasm': 'application/wasm',
  '.wav': 'audio/wav',
};

/** The page runs only what came with it and talks to nobody: the same headers suit any static host. */
export const headers = {
  'Content-Security-Policy':
    "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self'; style-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; object-src 'none'; base-uri 'self'",
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Embedder-Policy': 'require-corp',
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
};

/** The file that an address asks for, or null: what is no address or leads out of the folder asks for none. */
function fileAt(folder, url) {
  try {
    const path = decodeURIComponent(new URL(url, 'http://local').pathname);
    const file = normalize(join(folder, path.endsWith('/') ? `${path}index.html` : path));
    const inside = file.startsWith(folder + sep);
    return inside && statSync(file, { throwIfNoEntry: false })?.isFile() ? file : null;
  } catch {
    return null;
  }
}

/**
 * Serves the files of one folder on this machine alone (127.0.0.1). Port 0 takes a free one.
 * Resolves to the server and its address.
 */
export function serve(folder, port = 0) {
  const server = createServer((request, response) => {
    const missing = () => response.writeHead(404, headers).end('Not here.');
    const file = fileAt(folder, request.url ?? '/');
    if (file === null) {
      missing();
      return;
    }
    // A build may take the file away at any moment.
    createReadStream(file)
      .once('error', () => (response.headersSent ? response.destroy() : missing()))
      .once('open', function () {
        response.writeHead(200, {
          ...headers,
          'Content-Type': types[extname(file)] ?? 'application/octet-stream',
          'Cache-Control': 'no-cache',
        });
        this.pipe(response);
      });
  });
  return new Promise((resolve, reject) => {
    server.once('error', reject);
    server.listen(port, '127.0.0.1', () => {
      resolve({ server, address: `http://127.0.0.1:${server.address().port}/` });
    });
  });
}
