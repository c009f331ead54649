#!/usr/bin/env node
/**
 * Starts the command: becomes dist/cli.js as it stands, a script of the older kind, since Node takes an eighth of its own
 * start to get ready for a module. Its parts lie in dist/cli as scripts, not as modules, since
 * of scripts V8 takes compiled code from a file: a fresh process would spend a fifth of a short take's time on
 * compiling. `--keep-code`, which the build calls, hears a take of its own and keeps the code of what ran.
 */
const { readFileSync, renameSync, writeFileSync } = require('node:fs');
const { join } = require('node:path');
const { Script } = require('node:vm');

const keeps = process.argv[2] === '--keep-code';
const folder = join(__dirname, 'cli');
const modules = new Map();
const scripts = new Map();

/** Where the compiled code of a script lies: only of those whose name says what they hold. */
const codeOf = (name) => join(folder, name.replace(/\.cjs$/, '.code'));
const isNamedByContent = (name) => name !== 'main.cjs';

function keptCode(name) {
  if (keeps || !isNamedByContent(name)) return undefined;
  try {
    return readFileSync(codeOf(name));
  } catch {
    return undefined;
  }
}

/** Runs a script of dist/cli once and hands back what it exports. V8 compiles it anew where kept code does not fit. */
function load(name) {
  const known = modules.get(name);
  if (known) return known.exports;
  const module = { exports: {} };
  modules.set(name, module);
  const filename = join(folder, name);
  const text = readFileSync(filename, 'utf8');
  const cachedData = keptCode(name);
  const script = new Script(`(function (exports, require, module) {"use strict";${text}\n})`, {
    filename,
    ...(cachedData && { cachedData }),
  });
  scripts.set(name, script);
  const loadOther = (other) => (other.startsWith('./') ? load(other.slice(2)) : require(other));
  script.runInThisContext()(module.exports, loadOther, module);
  return module.exports;
}

async function keepCode() {
  await rehearse();
  for (const [name, script] of scripts) {
    if (!isNamedByContent(name)) continue;
    // Whole or not at all: V8 checks little of it.
    writeFileSync(`${codeOf(name)}.new`, script.createCachedData());
    renameSync(`${codeOf(name)}.new`, codeOf(name));
  }
}

async function run() {
  // Not process.exit: it would cut off what still waits in a pipe.
  process.exitCode = await main(process.argv.slice(2));
}

const { main, rehearse } = load('main.cjs');
if (keeps) keepCode();
else run();
