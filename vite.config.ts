import { execFileSync } from 'node:child_process';
import { copyFileSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { defineConfig, type Plugin, type UserConfig } from 'vite';
import { VitePWA } from 'vite-plugin-pwa';
import solid from 'vite-plugin-solid';

const at = (path: string) => fileURLToPath(new URL(path, import.meta.url));

/** Held by the whole page: own code only; the WebAssembly of the engine may compile. */
const policy =
  "default-src 'self'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self'; style-src 'self'; img-src 'self' blob: data:; media-src 'self' blob:; object-src 'none'; base-uri 'self'";

const page: UserConfig = {
  root: at('src'),
  publicDir: at('public'),
  base: './',
  plugins: [
    // inlineStyles off: a static style= would break the strict style-src above.
    solid({ solid: { inlineStyles: false } as never }),
    VitePWA({
      registerType: 'prompt',
      injectRegister: false,
      manifest: {
        name: 'Unclicked',
        short_name: 'Unclicked',
        description:
          'Cuts free-time playing into slices and sets it on a fixed tempo, attacks intact.',
        display: 'standalone',
        start_url: './',
        background_color: '#f6f3ea',
        theme_color: '#f6f3ea',
        icons: [
          { src: 'icon-192.png', sizes: '192x192', type: 'image/png' },
          { src: 'icon-512.png', sizes: '512x512', type: 'image/png' },
          {
            src: 'icon-maskable-512.png',
            sizes: '512x512',
            type: 'image/png',
            purpose: 'maskable',
          },
        ],
      },
      workbox: {
        globPatterns: ['**/*.{js,css,html,svg,png,webmanifest,wasm}'],
        // The window of the very first visit too finds what it loads later when the network goes meanwhile.
        clientsClaim: true,
      },
    }),
  ],
  worker: { format: 'es' },
  build: { outDir: at('dist/page'), emptyOutDir: true, target: 'es2022' },
  preview: {
    headers: {
      'Content-Security-Policy': policy,
      'Cross-Origin-Opener-Policy': 'same-origin',
      'Cross-Origin-Embedder-Policy': 'require-corp',
    },
  },
};

/** Puts the command's start beside its parts, and has it keep their compiled code (src/cli/start.cjs). */
const commandStart: Plugin = {
  name: 'command-start',
  generateBundle: ({ dir = '' }) => rmSync(join(dir, 'cli'), { recursive: true, force: true }),
  writeBundle: ({ dir = '' }) => {
    const start = join(dir, 'cli.js');
    copyFileSync(at('src/cli/start.cjs'), start);
    writeFileSync(join(dir, 'package.json'), '{ "type": "commonjs" }\n');
    execFileSync(process.execPath, [start, '--keep-code'], { stdio: 'inherit' });
  },
};

const { version } = JSON.parse(readFileSync(at('package.json'), 'utf8'));

const cli: UserConfig = {
  publicDir: false,
  define: { ownVersion: JSON.stringify(version) },
  plugins: [commandStart],
  build: {
    ssr: at('src/cli/main.ts'),
    target: 'node20',
    outDir: at('dist'),
    emptyOutDir: false,
    rolldownOptions: {
      output: {
        format: 'cjs',
        entryFileNames: 'cli/main.cjs',
        chunkFileNames: 'cli/[name]-[hash].cjs',
        // What a take is heard with lies in two files, since each one more takes its time to load: the warp needs only
        // the first, and hearing's code takes its time, too.
        codeSplitting: {
          groups: [
            {
              name: 'reading',
              test: /shared.(?:math|take|time).|cli.(?:compile-later|progress|read-files|write-files|decoders|verb|usage-error)[.]ts/,
              priority: 2,
            },
            {
              name: 'hearing',
              test: /shared.(?:hear|cut).|cli.(?:hear|heard-json|fixes-json)[.]ts/,
              priority: 1,
            },
          ],
        },
      },
    },
  },
  ssr: { noExternal: true },
};

export default defineConfig(({ mode }) => (mode === 'cli' ? cli : page));
