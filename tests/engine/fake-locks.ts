interface Asked {
  readonly mode: LockMode;
  readonly grant: () => void;
}
interface Held {
  readonly mode: LockMode;
  readonly lose: () => void;
}

/**
 * Locks of one browser, as far as this project asks for them (Web Locks API, W3C): one is had, alone or shared, until its promise
 * settles or another steals it; who waits may give up, or not wait at all.
 */
export function fakeLocks(): Pick<LockManager, 'request'> {
  const held = new Map<string, Set<Held>>();
  const lines = new Map<string, Asked[]>();
  const request = (
    name: string,
    ...[how, then]: [LockOptions | LockGrantedCallback<unknown>, LockGrantedCallback<unknown>?]
  ): Promise<unknown> => {
    const options: LockOptions = typeof how === 'object' ? how : {};
    const granted = (typeof how === 'function' ? how : then) as LockGrantedCallback<unknown>;
    const { mode = 'exclusive', ifAvailable, signal, steal } = options;
    const owners = held.get(name) ?? new Set();
    held.set(name, owners);
    const line = lines.get(name) ?? [];
    lines.set(name, line);
    const free = (wish: LockMode) =>
      [...owners].every((one) => one.mode === 'shared' && wish === 'shared');
    return new Promise((resolve, reject) => {
      const grant = () => {
        const own = {
          mode,
          lose: () => reject(new DOMException('Stolen.', 'AbortError')),
        };
        owners.add(own);
        const end = () => {
          if (!owners.delete(own)) return;
          while (line.length > 0 && free(line[0].mode)) line.shift()?.grant();
        };
        void Promise.resolve({ name, mode }).then(granted).then(resolve, reject).finally(end);
      };
      const asked = { mode, grant };
      signal?.addEventListener('abort', () => {
        const waiting = line.indexOf(asked);
        if (waiting >= 0) line.splice(waiting, 1);
        reject(signal.reason);
      });
      if (steal) {
        for (const one of owners) one.lose();
        owners.clear();
        grant();
      } else if (line.length === 0 && free(mode)) grant();
      else if (ifAvailable) void Promise.resolve(null).then(granted).then(resolve, reject);
      else line.push(asked);
    });
  };
  return { request: request as LockManager['request'] };
}
