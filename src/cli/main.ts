import { InputError } from '../../shared/math/input-error.ts';
import { say } from './say.ts';
import { UsageError } from './usage-error.ts';
import { readGiven, type Verb } from './verb.ts';
import { cannotWrite } from './write-reasons.ts';

/** Each verb is loaded when it is called: a short run then reads and compiles nothing else. */
const verbs: Readonly<Record<string, () => Promise<Verb>>> = {
  hear: async () => (await import('./hear.ts')).hear,
  warp: async () => (await import('./warp.ts')).warpFiles,
  straighten: async () => (await import('./straighten.ts')).straighten,
  tune: async () => (await import('./tune.ts')).tune,
  loop: async () => (await import('./loop.ts')).loop,
  pack: async () => (await import('./pack.ts')).pack,
  demo: async () => (await import('./demo.ts')).demo,
};

async function help(): Promise<string> {
  const all = await Promise.all(Object.values(verbs).map((load) => load()));
  return `unclicked: cuts free-time playing into slices and sets it on a fixed tempo.

${all.map((verb) => `  ${verb.help.split('\n')[0]}`).join('\n')}

unclicked VERB --help says more; unclicked --version says which one this is. Exit: 0 done,
2 wrong use, 3 input that can't be read or makes no sense, 1 anything else.
`;
}

/** Runs a call of the command and hands back its exit status. */
export async function main([name, ...args]: readonly string[]): Promise<number> {
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    // A reader that has seen enough (head, less) closes the pipe; that is no failure.
    process.exitCode = error.code === 'EPIPE' ? 0 : 1;
    if (error.code !== 'EPIPE') say(cannotWrite('The output', error).message);
  });
  try {
    if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
      const asked = name !== undefined;
      (asked ? process.stdout : process.stderr).write(await help());
      return asked ? 0 : 2;
    }
    if (name === '--version') {
      process.stdout.write(`${ownVersion}\n`);
      return 0;
    }
    const verb = Object.hasOwn(verbs, name) ? await verbs[name]() : undefined;
    if (!verb) throw new UsageError(`There is no verb ${name}; see unclicked --help.`);
    if (args.includes('--help') || args.includes('-h')) {
      process.stdout.write(`${verb.help}\n`);
      return 0;
    }
    await verb.run(readGiven(name, verb, args));
    return 0;
  } catch (error) {
    say(error instanceof Error ? error.message : String(error));
    return error instanceof UsageError ? 2 : error instanceof InputError ? 3 : 1;
  }
}

/** Hears a take of its own; see start.cjs. */
export async function rehearse(): Promise<void> {
  await (await import('./rehearse.ts')).rehearse();
}
