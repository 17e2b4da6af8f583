// Pieces of a program in RAM, each turned into one JavaScript function once it has been come to often: rp2040js takes every
// instruction apart anew each time. A piece goes on where a jump leads and past conditions that do not hold. It runs only
// where nothing is due before its end, and touches RAM alone: before anything else it stops, and rp2040js does that one
// instruction. So nothing but speed depends on it, and a test holds the one against the other.

const [RAM, SIZE] = [0x20000000, 0x42000];
const END = 0x40000; // above lies the stack, and for a moment the boot stage
const LONGEST = 64; // instructions
const OFTEN = 50;
const MOST_KNOWN = 10_000;
const [N, Z, C, V] = [8, 4, 2, 1];
const ALL = N | Z | C | V;
const HOLDS = ['c.Z', 'c.C', 'c.N', 'c.V', 'c.C&&!c.Z', 'c.N===c.V', 'c.N===c.V&&!c.Z'];

const hex = (value) => `0x${(value >>> 0).toString(16)}`;
const signed = (value, bits) => (value << (32 - bits)) >> (32 - bits);

/** Assignments of those flags that are needed. */
function flags(needed, { n, z, c, v }) {
  return [
    needed & N && n ? `c.N=${n};` : '',
    needed & Z && z ? `c.Z=${z};` : '',
    needed & C && c ? `c.C=${c};` : '',
    needed & V && v ? `c.V=${v};` : '',
  ].join('');
}

const NZ = { n: 's>0x7fffffff', z: 's===0' };

function sum(target, x, y, needed) {
  const wide = needed & C ? `c.C=x+y>0xffffffff;` : '';
  return (
    `x=${x};y=${y};s=(x+y)>>>0;${wide}${flags(needed & ~C, { ...NZ, v: '((x^s)&(y^s))<0' })}` +
    (target === null ? '' : `R[${target}]=s;`)
  );
}

function difference(target, x, y, needed) {
  return (
    `x=${x};y=${y};s=(x-y)>>>0;${flags(needed, { ...NZ, c: 'x>=y', v: '((x^y)&(x^s))<0' })}` +
    (target === null ? '' : `R[${target}]=s;`)
  );
}

const logic = (target, value, needed) => `s=(${value})>>>0;${flags(needed, NZ)}${target === null ? '' : `R[${target}]=s;`}`;

const plain = (code) => ({ code: () => code, sets: 0, uses: 0, cycles: 1 });
const setting = (sets, code, uses = 0) => ({ code, sets, uses, cycles: 1 });

/** Where in RAM an address is, or the piece stops. */
const place = (address, bytes, store) =>
  `o=(${address})-${RAM}>>>0;if(o>${SIZE - bytes}${bytes > 1 ? `||o&${Math.min(bytes, 4) - 1}` : ''}${store ? '||o<m.code' : ''})STOP;`;

const READS = {
  4: 'm.words[o>>>2]', 2: 'm.halves[o>>>1]', 1: 'm.bytes[o]', '-2': '(m.halves[o>>>1]<<16>>16)', '-1': '(m.bytes[o]<<24>>24)',
};

const load = (target, address, kind) => ({
  ...plain(`${place(address, Math.abs(kind), false)}R[${target}]=${READS[kind]};`), cycles: 2,
});

const store = (source, address, bytes) => ({
  ...plain(`${place(address, bytes, true)}${READS[bytes]}=R[${source}];`), cycles: 2,
});

function several(op, base, list, isLoad) {
  const registers = [0, 1, 2, 3, 4, 5, 6, 7].filter((n) => list & (1 << n));
  const moves = registers.map((n, at) => (isLoad ? `R[${n}]=m.words[o+${at}];` : `m.words[o+${at}]=R[${n}];`)).join('');
  const back = list & (1 << base) ? '' : `R[${base}]=a+${4 * registers.length};`;
  return {
    ...plain(`a=R[${base}];o=a-${RAM}>>>0;if(o>${SIZE - 32}||o&3${isLoad ? '' : '||o<m.code'})STOP;o>>>=2;${moves}${back}`),
    cycles: 1 + registers.length,
  };
}

function push(list, withLink) {
  const registers = [0, 1, 2, 3, 4, 5, 6, 7].filter((n) => list & (1 << n));
  const bytes = 4 * (registers.length + (withLink ? 1 : 0));
  const moves = registers.map((n, at) => `m.words[o+${at}]=R[${n}];`).join('');
  const link = withLink ? `m.words[o+${registers.length}]=R[14];` : '';
  return {
    ...plain(`a=R[13]-${bytes};o=a-${RAM}>>>0;if(o>${SIZE - 40}||o<m.code)STOP;o>>>=2;${moves}${link}R[13]=a;`),
    cycles: 1 + bytes / 4,
  };
}

function pop(list, toPc) {
  const registers = [0, 1, 2, 3, 4, 5, 6, 7].filter((n) => list & (1 << n));
  const moves = registers.map((n, at) => `R[${n}]=m.words[o+${at}];`).join('');
  const begin = `a=R[13];o=a-${RAM}>>>0;if(o>${SIZE - 40})STOP;o>>>=2;`;
  if (!toPc) return { ...plain(`${begin}${moves}R[13]=a+${4 * registers.length};`), cycles: 1 + registers.length };
  // A return from an interrupt is none of ours.
  const jump = `x=m.words[o+${registers.length}];if(x>>>28===15)STOP;${moves}R[13]=a+${4 * registers.length + 4};R[15]=x&~1;`;
  return { ...plain(begin + jump), cycles: 4 + registers.length, ends: true };
}

const REGISTER_OPS = {
  0: (d, m) => setting(N | Z, (need) => logic(d, `R[${d}]&R[${m}]`, need)),
  1: (d, m) => setting(N | Z, (need) => logic(d, `R[${d}]^R[${m}]`, need)),
  5: (d, m) => setting(ALL, (need) =>
    `x=R[${d}];y=R[${m}];t=x+y+(c.C?1:0);s=t>>>0;${flags(need, { ...NZ, c: 't>0xffffffff', v: '((x^s)&(y^s))<0' })}R[${d}]=s;`, C),
  6: (d, m) => setting(ALL, (need) =>
    `x=R[${d}];y=R[${m}];t=x-y-(c.C?0:1);s=t>>>0;${flags(need, { ...NZ, c: 't>=0', v: '((x^y)&(x^s))<0' })}R[${d}]=s;`, C),
  8: (d, m) => setting(N | Z, (need) => logic(null, `R[${d}]&R[${m}]`, need)),
  9: (d, m) => setting(ALL, (need) => difference(d, '0', `R[${m}]`, need)),
  10: (d, m) => setting(ALL, (need) => difference(null, `R[${d}]`, `R[${m}]`, need)),
  11: (d, m) => setting(ALL, (need) => sum(null, `R[${d}]`, `R[${m}]`, need)),
  12: (d, m) => setting(N | Z, (need) => logic(d, `R[${d}]|R[${m}]`, need)),
  13: (d, m) => setting(N | Z, (need) => logic(d, `Math.imul(R[${d}],R[${m}])`, need)),
  14: (d, m) => setting(N | Z, (need) => logic(d, `R[${d}]&~R[${m}]`, need)),
  15: (d, m) => setting(N | Z, (need) => logic(d, `~R[${m}]`, need)),
};

function shift(op) {
  const [by, m, d] = [(op >> 6) & 31, (op >> 3) & 7, op & 7];
  if (op >> 11 === 0) {
    if (!by) return setting(N | Z, (need) => logic(d, `R[${m}]`, need));
    return setting(N | Z | C, (need) => `x=R[${m}];${flags(need & C, { c: `(x>>>${32 - by}&1)!==0` })}${logic(d, `x<<${by}`, need)}`);
  }
  const [n, how] = [by || 32, op >> 11 === 1 ? '>>>' : '>>'];
  const value = n < 32 ? `x${how}${n}` : how === '>>>' ? '0' : 'x>>31';
  return setting(N | Z | C, (need) => `x=R[${m}];${flags(need & C, { c: `(x>>>${n - 1}&1)!==0` })}${logic(d, value, need)}`);
}

function withImmediate(op) {
  const [d, value] = [(op >> 8) & 7, op & 0xff];
  switch ((op >> 11) & 3) {
    case 0:
      return setting(N | Z, (need) => `R[${d}]=${value};${flags(need, { n: 'false', z: String(value === 0) })}`);
    case 1:
      return setting(ALL, (need) => difference(null, `R[${d}]`, value, need));
    case 2:
      return setting(ALL, (need) => sum(d, `R[${d}]`, value, need));
    default:
      return setting(ALL, (need) => difference(d, `R[${d}]`, value, need));
  }
}

function addOrSubtract(op) {
  const [m, n, d] = [(op >> 6) & 7, (op >> 3) & 7, op & 7];
  const y = op & 0x400 ? String(m) : `R[${m}]`;
  return setting(ALL, (need) => (op & 0x200 ? difference : sum)(d, `R[${n}]`, y, need));
}

function highRegisters(op, pc) {
  const [m, d] = [(op >> 3) & 15, ((op >> 4) & 8) | (op & 7)];
  const value = m === 15 ? String(pc + 4) : `R[${m}]`;
  switch ((op >> 8) & 3) {
    case 0:
      if (d === 15) return null;
      return plain(d === 13 ? `R[13]=(R[13]+${value})&~3;` : `R[${d}]=R[${d}]+${value};`);
    case 1:
      return d === 15 || m === 15 ? null : setting(ALL, (need) => difference(null, `R[${d}]`, value, need));
    case 2:
      if (d === 15) return null;
      return plain(d === 13 ? `R[13]=${value}&~3;` : `R[${d}]=${value};`);
    default: {
      const link = op & 0x80 ? `R[14]=${hex((pc + 2) | 1)};` : '';
      if (m === 15 || (op & 7)) return null;
      return { ...plain(`x=R[${m}];if(x>>>28===15)STOP;${link}R[15]=x&~1;`), cycles: 2, ends: true };
    }
  }
}

const KINDS = [[4, true], [2, true], [1, true], [-1, false], [4, false], [2, false], [1, false], [-2, false]];

function memory(op, pc) {
  const [n, t, imm] = [(op >> 3) & 7, op & 7, (op >> 6) & 31];
  if (op >> 12 === 5) {
    const [kind, isStore] = KINDS[(op >> 9) & 7];
    const address = `R[${n}]+R[${imm & 7}]`;
    return isStore ? store(t, address, kind) : load(t, address, kind);
  }
  if (op >> 11 === 9) {
    const address = ((pc + 4) & ~3) + 4 * (op & 0xff);
    return load((op >> 8) & 7, hex(address), 4);
  }
  if (op >> 12 === 9) {
    const [target, address] = [(op >> 8) & 7, `R[13]+${4 * (op & 0xff)}`];
    return op & 0x800 ? load(target, address, 4) : store(target, address, 4);
  }
  const bytes = { 6: 4, 7: 1, 8: 2 }[op >> 12];
  const address = `R[${n}]+${imm * bytes}`;
  return op & 0x800 ? load(t, address, bytes) : store(t, address, bytes);
}

function extended(op) {
  const [m, d] = [(op >> 3) & 7, op & 7];
  const values = [`R[${m}]<<16>>16`, `R[${m}]<<24>>24`, `R[${m}]&0xffff`, `R[${m}]&0xff`];
  return plain(`R[${d}]=${values[(op >> 6) & 3]};`);
}

function various(op) {
  if (op >> 7 === 0x160) return plain(`R[13]+=${4 * (op & 0x7f)};`);
  if (op >> 7 === 0x161) return plain(`R[13]-=${4 * (op & 0x7f)};`);
  if (op >> 8 === 0xb2) return extended(op);
  if (op >> 9 === 0x5a) return push(op & 0xff, op & 0x100);
  if (op >> 9 === 0x5e) return pop(op & 0xff, op & 0x100);
  return op === 0xbf00 ? plain('') : null;
}

function branch(op, pc) {
  if (op >> 12 === 14) return { ...plain(''), cycles: 2, goes: pc + 4 + 2 * signed(op, 11) };
  const condition = (op >> 8) & 15;
  if (condition > 13) return null;
  const [test, to] = [`${condition & 1 ? '!' : ''}(${HOLDS[condition >> 1]})`, hex(pc + 4 + 2 * signed(op, 8))];
  return {
    code: (_, cycles) => `if(${test}){R[15]=${to};return ${cycles + 2};}`, sets: 0, uses: ALL, cycles: 1,
  };
}

/** BL: two halfwords. */
function call(op, next, pc) {
  if (op >> 11 !== 0x1e || (next & 0xd000) !== 0xd000) return null;
  const s = (op >> 10) & 1;
  const [i1, i2] = [1 - (s ^ ((next >> 13) & 1)), 1 - (s ^ ((next >> 11) & 1))];
  const offset = signed((s << 24) | (i1 << 23) | (i2 << 22) | ((op & 0x3ff) << 12) | ((next & 0x7ff) << 1), 25);
  return { ...plain(`R[14]=${hex((pc + 4) | 1)};`), cycles: 3, goes: pc + 4 + offset };
}

/** What one instruction does, or null where it is left to rp2040js. */
function instruction(op, next, pc) {
  const group = op >> 12;
  if (group === 0 || op >> 11 === 2) return shift(op);
  if (group === 1) return addOrSubtract(op);
  if (group < 4) return withImmediate(op);
  if (op >> 10 === 0x10) return REGISTER_OPS[(op >> 6) & 15]?.(op & 7, (op >> 3) & 7) ?? null;
  if (op >> 10 === 0x11) return highRegisters(op, pc);
  if (group < 10) return memory(op, pc);
  if (group === 10) {
    const value = op & 0x800 ? `R[13]+${4 * (op & 0xff)}` : hex(((pc + 4) & ~3) + 4 * (op & 0xff));
    return plain(`R[${(op >> 8) & 7}]=${value};`);
  }
  if (group === 11) return various(op);
  if (group === 12) return several(op, (op >> 8) & 7, op & 0xff, op & 0x800);
  return group < 15 ? branch(op, pc) : call(op, next, pc);
}

const known = new Map();

/** Made once, also for chips that are reset or powered anew. */
function compiled(source) {
  let run = known.get(source);
  if (!run) {
    if (known.size > MOST_KNOWN) known.clear();
    run = new Function('R', 'c', 'm', source);
    known.set(source, run);
  }
  return run;
}

export class Blocks {
  constructor(sram) {
    this.memory = {
      words: new Uint32Array(sram.buffer),
      halves: new Uint16Array(sram.buffer),
      bytes: sram,
      code: 0, // as far as pieces were made of it: stores below are not ours
    };
    this.forget();
  }

  /** The program in RAM has changed. */
  forget() {
    this.made = new Array(END / 2).fill(undefined);
    this.visits = new Uint8Array(END / 2);
    this.memory.code = 0;
  }

  /** The piece that begins at an address: `{ run, most }`, or null. */
  at(pc) {
    const place = (pc - RAM) >>> 1;
    if (place >= END / 2) return null;
    const made = this.made[place];
    if (made !== undefined) return made;
    return ++this.visits[place] < OFTEN ? null : (this.made[place] = this.make(pc));
  }

  make(pc) {
    const { halves } = this.memory;
    const steps = [];
    let at = pc;
    while (steps.length < LONGEST && at >= RAM && at < RAM + END) {
      const place = (at - RAM) >>> 1;
      const step = instruction(halves[place], halves[place + 1], at);
      if (!step) break;
      steps.push({ ...step, pc: at });
      this.memory.code = Math.max(this.memory.code, at + 4 - RAM);
      at = step.goes ?? at + 2;
      if (step.ends) break;
    }
    if (!steps.length) return null;
    return this.compile(steps, at);
  }

  compile(steps, end) {
    let live = ALL;
    const needed = steps.map(() => 0);
    for (let n = steps.length - 1; n >= 0; n--) {
      needed[n] = steps[n].sets & live;
      live = (live & ~steps[n].sets) | steps[n].uses;
    }
    let cycles = 0;
    let source = 'let a,o,s,t,x,y;';
    steps.forEach((step, n) => {
      source += step.code(needed[n], cycles).replaceAll('STOP', `{R[15]=${hex(step.pc)};return ${cycles};}`);
      cycles += step.cycles;
    });
    if (!steps.at(-1).ends) source += `R[15]=${hex(end)};`;
    return { run: compiled(`${source}return ${cycles};`), most: cycles + 1 };
  }
}

