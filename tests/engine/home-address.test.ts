import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, request, type Server } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { serveAtHome } from '../../src/setup/home-address.mjs';

let folder: string;
const running: Server[] = [];

beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'unclicked-page-'));
  writeFileSync(join(folder, 'index.html'), '<title>Unclicked</title>');
});
afterAll(() => rmSync(folder, { recursive: true }));
afterEach(() => {
  for (const server of running.splice(0)) server.close();
});

/** Another program, on a port that was free. */
const stranger = async () => {
  const server = createServer((_, answer) => answer.end('something else'));
  await new Promise<void>((there) => server.listen(0, '127.0.0.1', there));
  running.push(server);
  const address = server.address();
  return address !== null && typeof address === 'object' ? address.port : 0;
};
const start = async (chosen: string | undefined, usual?: number) => {
  const started = await serveAtHome(folder, chosen, usual);
  if (started.server) running.push(started.server);
  return started;
};

describe('the address of the page', () => {
  it('is the same each time, since browsers keep projects by address', async () => {
    const port = await stranger();
    running.pop()?.close();
    const first = await start(undefined, port);
    expect(first.address).toBe(`http://127.0.0.1:${port}/`);
    await new Promise((closed) => running.pop()?.close(closed));
    expect((await start(undefined, port)).address).toBe(first.address);
  });

  it('is that of the page that runs already', async () => {
    const { address } = await start('0');
    const second = await start(new URL(address).port);
    expect(second).toEqual({
      server: null,
      address,
      words: `Unclicked runs already, at ${address}`,
    });
  });

  it('is another one where a stranger has the port, and says what follows from that', async () => {
    const port = await stranger();
    const { address, words } = await start(undefined, port);
    expect(new URL(address).port).not.toBe(String(port));
    expect(await (await fetch(address)).text()).toContain('Unclicked');
    expect(words).toContain(`those made at http://127.0.0.1:${port}/ are not seen here`);
  });

  it('gives what is in the folder and nothing else, whatever is asked', async () => {
    const { address } = await start('0');
    /** The answer to a path as it stands: what a browser would tidy up is sent, too. */
    const asked = (path: string) =>
      new Promise<number | undefined>((answered, failed) => {
        const { hostname, port } = new URL(address);
        request({ hostname, port, path }, (answer) => answered(answer.resume().statusCode))
          .on('error', failed)
          .end();
      });
    for (const path of ['/', '/index.html', '/?a=b'])
      expect([path, await asked(path)]).toEqual([path, 200]);
    for (const path of [
      '/none.js',
      '/%E0%A4%A',
      '//',
      '/../../etc/passwd',
      '/%2e%2e/%2e%2e/etc/hosts',
    ])
      expect([path, await asked(path)]).toEqual([path, 404]);
    expect(await asked('/')).toBe(200);
  });

  it('is refused with a sentence where a named port is taken or is none', async () => {
    const port = await stranger();
    await expect(start(String(port))).rejects.toThrow(`Port ${port} is in use by another program`);
    await expect(start('http')).rejects.toThrow('PORT is "http", which is no port');
    await expect(start('70000')).rejects.toThrow('no port');
  });
});
