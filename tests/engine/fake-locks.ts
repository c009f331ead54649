interface Asked {
  readonly mode: LockMode;
  readonly run: () => void;
}

/** Locks as the Web Locks API (W3C) has them, for one process: as far as this project asks for them. */
export function fakeLocks(): Pick<LockManager, 'request'> {
  const held = new Map<string, LockMode[]>();
  const waiting = new Map<string, Asked[]>();
  const free = (name: string, mode: LockMode) =>
    (held.get(name) ?? []).every((one) => one === 'shared' && mode === 'shared');
  const next = (name: string) => {
    const queue = waiting.get(name) ?? [];
    while (queue.length > 0 && free(name, queue[0].mode)) queue.shift()?.run();
  };
  const request = (
    name: string,
    ...[how, then]: [LockOptions | LockGrantedCallback<unknown>, LockGrantedCallback<unknown>?]
  ): Promise<unknown> => {
    const { mode = 'exclusive', ifAvailable = false } = typeof how === 'object' ? how : {};
    const granted = (typeof how === 'function' ? how : then) as LockGrantedCallback<unknown>;
    const hold = async () => {
      held.set(name, [...(held.get(name) ?? []), mode]);
      try {
        return await granted({ name, mode });
      } finally {
        const left = held.get(name) ?? [];
        left.splice(left.indexOf(mode), 1);
        next(name);
      }
    };
    const queue = waiting.get(name) ?? [];
    waiting.set(name, queue);
    if (queue.length === 0 && free(name, mode)) return hold();
    if (ifAvailable) return Promise.resolve(granted(null));
    return new Promise((resolve, reject) => {
      queue.push({ mode, run: () => void hold().then(resolve, reject) });
    });
  };
  return { request: request as LockManager['request'] };
}
