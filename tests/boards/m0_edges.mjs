// Calls an exported mix on the core of rp2040js, one instruction at a time: where each led and what it cost.
// node m0_edges.mjs RP2040JS < {"parts", "symbols", "rows"}; prints [[from, to, cycles], ...], each edge once.
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';

const { RP2040 } = createRequire(`${process.argv[2]}/package.json`)('rp2040js');
const { parts, symbols, rows } = JSON.parse(readFileSync(0, 'utf8'));
const [RAM, TOP, BACK] = [0x20000000, 0x20042000, 0x20041ffe];
const mcu = new RP2040();
const core = mcu.core;
for (const [address, bytes] of parts) mcu.sram.set(bytes, address - RAM);

const edges = new Set();
function call(routine, ...places) {
  core.SP = TOP - 16; // BACK lies above, so that nothing else comes there
  core.LR = BACK | 1;
  places.forEach((place, at) => (core.registers[at] = place));
  core.PC = routine;
  while (core.PC !== BACK) {
    const from = core.PC;
    const cycles = core.executeInstruction();
    edges.add(`${from},${core.PC === BACK ? 0xfffffffe : core.PC},${cycles}`);
  }
}

call(symbols.mix_start, symbols.state);
for (const row of rows) {
  mcu.sram.set(row, symbols.now - RAM);
  call(symbols.mix_tick, symbols.now, symbols.state, symbols.out);
}
console.log(JSON.stringify([...edges].map((edge) => edge.split(',').map(Number))));
