import { type ParseArgsConfig, parseArgs } from 'node:util';
import { UsageError } from './usage-error.ts';

/** One of the command's verbs: what stands after `unclicked`. */
export interface Verb {
  /** Shown by `--help`: the call, then what it does and every option. */
  readonly help: string;
  readonly options: NonNullable<ParseArgsConfig['options']>;
  readonly run: (given: Given) => Promise<void>;
}

/** The words of one call, read and checked as the verb asks for them. */
export class Given {
  /** Words that belong to no option, in order. */
  readonly words: readonly string[];
  private readonly verb: string;
  private readonly values: Record<string, unknown>;

  constructor(verb: string, words: readonly string[], values: Record<string, unknown>) {
    this.verb = verb;
    this.words = words;
    this.values = values;
  }

  fail(problem: string): never {
    throw new UsageError(`${problem}; see unclicked ${this.verb} --help.`);
  }

  text(name: string): string | undefined {
    return this.values[name] as string | undefined;
  }

  need(name: string, what: string): string {
    return this.text(name) ?? this.fail(`Say ${what} with --${name}`);
  }

  flag(name: string): boolean {
    return this.values[name] === true;
  }

  list(name: string): readonly string[] {
    return (this.values[name] as string[] | undefined) ?? [];
  }

  /** A number within bounds; undefined where the option was not given. */
  number(name: string, from: number, until: number): number | undefined {
    const text = this.text(name);
    if (text === undefined) return undefined;
    const value = text.trim() === '' ? Number.NaN : Number(text);
    if (!(value >= from && value <= until))
      this.fail(`--${name} is ${text}, but must be a number from ${from} to ${until}`);
    return value;
  }

  /** The same without a fraction. */
  whole(name: string, from: number, until: number): number | undefined {
    const value = this.number(name, from, until);
    if (value !== undefined && !Number.isInteger(value))
      this.fail(`--${name} is ${value}, but must be a whole number`);
    return value;
  }

  choice<T extends string>(name: string, choices: readonly T[]): T | undefined {
    const text = this.text(name);
    const found = choices.find((choice) => choice === text);
    if (text !== undefined && found === undefined)
      this.fail(`--${name} is ${text}, but must be one of ${choices.join(', ')}`);
    return found;
  }

  /** The one word that the verb works on. */
  only(what: string): string {
    if (this.words.length !== 1)
      this.fail(
        this.words.length === 0 ? `Name a ${what}` : `Name one ${what}, not ${this.words.length}`,
      );
    return this.words[0];
  }

  /** The take and its stems: `TAKE --stem A --stem B`, or several after one `--stem`. */
  takeAndStems(): { take: string; stems: readonly string[] } {
    const stems = this.list('stem');
    if (stems.length === 0) return { take: this.only('take (a recording)'), stems };
    const [take, ...rest] = this.words;
    if (take === undefined) this.fail('Name a take (a recording) before its stems');
    return { take, stems: [...stems, ...rest] };
  }
}

/**
 * The words with each number below zero joined to the option that it stands behind (`--cents -20`): Node takes
 * whatever begins with a dash for another option.
 */
function withNegatives(args: readonly string[], options: Verb['options']): string[] {
  const joined: string[] = [];
  for (const arg of args) {
    const option = joined[joined.length - 1];
    const wants = option?.startsWith('--') && options[option.slice(2)]?.type === 'string';
    if (wants && /^-\.?\d/.test(arg)) joined[joined.length - 1] = `${option}=${arg}`;
    else joined.push(arg);
  }
  return joined;
}

/** Reads a call's words by the verb's options. Throws UsageError. */
export function readGiven(name: string, verb: Verb, args: readonly string[]): Given {
  try {
    const { values, positionals } = parseArgs({
      args: withNegatives(args, verb.options),
      options: verb.options,
      allowPositionals: true,
      strict: true,
    });
    return new Given(name, positionals, values);
  } catch (error) {
    // Node's message goes on with advice for programmers after the first sentence.
    const [problem] = (error as Error).message.split(/\.\s/);
    throw new UsageError(`${problem.replace(/\.$/, '')}; see unclicked ${name} --help.`);
  }
}
