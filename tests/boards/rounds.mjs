// Runs a firmware on the simulated RP2040 and tells each instruction of the main program in some stretches of cycles.
// node rounds.mjs SIMULATOR CHIP < {"parts", "edges", "stretches", "poke"}; prints [[from, to, cycles, ...], ...], one a stretch.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';

const [, , simulator, chips] = process.argv;
const { RP2040 } = await import(pathToFileURL(join(simulator, 'node_modules', 'rp2040js', 'dist', 'esm', 'index.js')).href);
const { Chip } = await import(pathToFileURL(join(chips, 'chip.mjs')).href);
const { parts, edges, stretches } = JSON.parse(readFileSync(0, 'utf8'));

const chip = new Chip(RP2040, parts.map(([address, hex]) => [address, Uint8Array.from(Buffer.from(hex, 'hex'))]), { baud: 0 });
const { core } = chip.rp2040;
// What a load and a store behind the APB bridge wait (RP2040 data sheet, "APB Bridge"), which the simulator leaves out.
const [LOADED, STORED] = [2, 3];
let waits = 0;
for (const [name, cycles] of [['read', LOADED], ['write', STORED]]) {
  for (const bits of ['Uint8', 'Uint16', 'Uint32']) {
    const access = chip.rp2040[name + bits].bind(chip.rp2040);
    chip.rp2040[name + bits] = (address, ...more) => {
      if (address >>> 28 === 4) waits ||= cycles;
      return access(address, ...more);
    };
  }
}
const one = core.executeInstruction.bind(core);
const blocks = chip.blocks.at.bind(chip.blocks);
let steps = null;
let last = 0;
core.executeInstruction = () => {
  const at = core.PC;
  const inside = core.IPSR;
  waits = 0;
  one();
  if (steps && !inside) steps.push(at, core.PC, core.cycles - last + waits);
  last = core.cycles;
};

const told = [];
chip.play(edges);
for (const [begin, end] of stretches) {
  chip.blocks.at = blocks;
  steps = null;
  chip.run(begin, () => {});
  chip.blocks.at = () => null; // one instruction at a time
  last = core.cycles;
  steps = [];
  chip.run(end, () => {});
  told.push(steps);
}
if (chip.faults.size) throw new Error([...chip.faults].join());
console.log(JSON.stringify(told));
