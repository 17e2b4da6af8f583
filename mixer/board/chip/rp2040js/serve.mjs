// node serve.mjs FOLDER PROCESS: an RP2040 on stdin and stdout, a line of JSON for each question and each answer.
// FOLDER is where npm has put rp2040js. PROCESS is who asks: it ends when that does, also in the middle of a run.

import { createInterface } from 'node:readline';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { Chip } from './chip.mjs';
import { CYCLE_NS, HZ, cycleOf } from './clock.mjs';

const RAM = 0x20000000;
const { RP2040 } = await import(
  pathToFileURL(join(process.argv[2], 'node_modules', 'rp2040js', 'dist', 'esm', 'index.js')).href
);
const [parent, asker] = [process.ppid, Number(process.argv[3])];
let chip = null;

function exists(id) {
  try {
    return process.kill(id, 0);
  } catch (error) {
    return error.code === 'EPERM';
  }
}

function endWithWhoAsks() {
  if (process.ppid !== parent || !exists(asker)) process.exit(1);
}

const bytesOf = (hex) => Uint8Array.from(Buffer.from(hex, 'hex'));

const ANSWERS = {
  load({ parts, seed, baud }) {
    chip = new Chip(RP2040, parts.map(([address, hex]) => [address, bytesOf(hex)]), { seed, baud });
    return { hz: HZ };
  },

  run({ until, edges, analog }) {
    for (const [input, millivolts] of analog) chip.setAnalog(input, millivolts);
    chip.play(edges);
    const out = chip.run(until, endWithWhoAsks);
    const faults = [...chip.faults];
    chip.faults.clear();
    return {
      cycle: cycleOf(chip.clock.nanos),
      edges: out.edges.flat(),
      trains: out.trains.flat(),
      sent: out.sent.flat(),
      resets: out.resets.flat(),
      ...(faults.length && { faults }),
    };
  },

  send({ hex, at }) {
    chip.send(bytesOf(hex), at);
    return {};
  },

  peek({ address, size }) {
    return { hex: Buffer.from(chip.rp2040.sram.subarray(address - RAM, address - RAM + size)).toString('hex') };
  },

  poke({ address, hex }) {
    chip.rp2040.sram.set(bytesOf(hex), address - RAM);
    if (address - RAM < chip.blocks.memory.code) chip.blocks.forget();
    return {};
  },

  reset({ reason, held }) {
    chip.restart = [reason, held, reason === 8 ? 1 : 0];
    return {};
  },

  hang({ address }) {
    if (address < 0) chip.halt(Infinity);
    else chip.standAt = address;
    return {};
  },

  halt({ cycles }) {
    chip.halt(chip.clock.nanos + cycles * CYCLE_NS);
    return {};
  },
};

for await (const line of createInterface({ input: process.stdin })) {
  const { ask, ...rest } = JSON.parse(line);
  process.stdout.write(`${JSON.stringify(ANSWERS[ask](rest))}\n`);
}
