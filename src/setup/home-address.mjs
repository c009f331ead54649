import { serve } from './serve.mjs';

/** A browser keeps projects by address, so the page is always at the same one. */
const homePort = 8625;

/** True where this page answers at an address already. */
async function isOurs(address) {
  try {
    const answer = await fetch(address, { signal: AbortSignal.timeout(2000) });
    return (await answer.text()).includes('<title>Unclicked</title>');
  } catch {
    return false;
  }
}

/**
 * Serves a folder at the page's own address on this machine, or finds it served there. `chosen` is a port
 * that the person named (the environment's PORT), else undefined. Resolves to the address, to the server
 * (null where another one serves the page there), and to what is to be said; rejects with a sentence where
 * a named port is none or is in use.
 */
export async function serveAtHome(folder, chosen, usual = homePort) {
  const port = chosen === undefined ? usual : Number(chosen);
  if (!Number.isInteger(port) || port < 0 || port > 65535)
    throw new Error(`PORT is "${chosen}", which is no port; give a number from 1024 to 65535.`);
  const at = `http://127.0.0.1:${port}/`;
  try {
    const { server, address } = await serve(folder, port);
    const words = `Unclicked is at ${address} (only on this machine; Ctrl+C ends it).`;
    return { server, address, words };
  } catch (error) {
    if (error.code === 'EACCES')
      throw new Error(`Port ${port} may not be used by this account; give another: PORT=8626.`);
    if (error.code !== 'EADDRINUSE') throw error;
  }
  if (await isOurs(at))
    return { server: null, address: at, words: `Unclicked runs already, at ${at}` };
  if (chosen !== undefined)
    throw new Error(`Port ${port} is in use by another program; give another in PORT.`);
  const { server, address } = await serve(folder, 0);
  const words = `Unclicked is at ${address} this time (only on this machine; Ctrl+C ends it): port ${port} is in use by another program. Browsers keep projects by address, so those made at ${at} are not seen here.`;
  return { server, address, words };
}
