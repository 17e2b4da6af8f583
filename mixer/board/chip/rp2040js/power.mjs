// Resets, watchdog, brown-out, oscillator, PLLs and the core's own timer. rp2040js has them ready at once, keeps no block in
// reset, and its time stands still once its watchdog has fired.

import { Block } from './block.mjs';

const ALL_BLOCKS = 0x1ffffff;
const PLL_LOCK_NS = 50_000; // the data sheet gives no time; some such
const CRYSTAL_NS = 1000 / 12;

/** Which bit of RESETS holds the block at an address (data sheet 2.14.3); what is not here is never held. */
const HELD = {
  0x4004c: 0, 0x50000: 2, 0x40044: 3, 0x40048: 4, 0x40014: 5, 0x4001c: 8, 0x50200: 10, 0x50300: 11,
  0x40028: 12, 0x4002c: 13, 0x40050: 14, 0x4005c: 15, 0x4003c: 16, 0x40040: 17, 0x40054: 21, 0x40034: 22,
  0x40038: 23, 0x50110: 24,
};

export class Resets extends Block {
  constructor(chip) {
    super(chip, 'RESETS');
    this.held = ALL_BLOCKS;
    this.selected = 0;
  }

  read(offset) {
    return { 0: this.held, 4: this.selected, 8: ALL_BLOCKS & ~this.held }[offset];
  }

  write(offset, value) {
    if (offset === 0) {
      const begun = value & ~this.held;
      this.held = value & ALL_BLOCKS;
      this.chip.blocksReset(begun);
    } else if (offset === 4) this.selected = value & ALL_BLOCKS;
    else return false;
    return true;
  }

  holds(block) {
    return block in HELD && !!(this.held & (1 << HELD[block]));
  }
}

export class Watchdog extends Block {
  constructor(chip, reason, scratch) {
    super(chip, 'WATCHDOG');
    this.reason = reason;
    this.scratch = scratch;
    this.enabled = false;
    this.ticks = 0; // the TICK register
    this.left = 0; // while it stands
    this.until = 0;
    this.alarm = chip.clock.createAlarm(() => this.bite(1));
  }

  /** Nanoseconds a count: two counts a tick of clk_ref / CYCLES (erratum RP2040-E1). */
  get countNs() {
    const reference = this.chip.rp2040.clocks.refFreq;
    return this.ticks & 0x200 && reference ? ((this.ticks & 0x1ff) * 1e9) / reference / 2 : 0;
  }

  get running() {
    return this.enabled && this.countNs > 0;
  }

  get count() {
    return this.running ? Math.ceil((this.until - this.chip.clock.nanos) / this.countNs) : this.left;
  }

  bite(reason) {
    this.chip.watchdogReset(reason);
  }

  set(count) {
    this.left = count;
    if (this.running) {
      this.until = this.chip.clock.nanos + count * this.countNs;
      this.alarm.schedule(count * this.countNs);
    } else this.alarm.cancel();
  }

  read(offset) {
    if (offset === 0x00) return (this.enabled ? 1 << 30 : 0) | (7 << 24) | this.count;
    if (offset === 0x08) return this.reason;
    if (offset >= 0x0c && offset <= 0x28) return this.scratch[(offset - 0x0c) / 4];
    return offset === 0x2c ? this.ticks | (this.ticks & 0x200) << 1 : undefined;
  }

  write(offset, value) {
    const { count } = this;
    if (offset === 0x00) {
      if (value & (1 << 31)) return this.bite(2);
      this.enabled = !!(value & (1 << 30));
      this.set(count);
    } else if (offset === 0x04) this.set(value & 0xffffff);
    else if (offset >= 0x0c && offset <= 0x28) this.scratch[(offset - 0x0c) / 4] = value;
    else if (offset === 0x2c) {
      this.ticks = value & 0x3ff;
      this.set(count);
    } else return false;
    return true;
  }
}

/** VREG_AND_CHIP_RESET: the brown-out level, and what reset the chip. */
export class Supply extends Block {
  constructor(chip, cause) {
    super(chip, 'VREG_AND_CHIP_RESET');
    this.registers = { 0: 0xb1, 4: 0x91, 8: cause };
  }

  read(offset) {
    return this.registers[offset];
  }

  write(offset, value) {
    if (offset === 8) return false;
    this.registers[offset] = value;
    return true;
  }
}

/** The crystal is stable after the time that STARTUP gives, a PLL locks after some more; nothing runs from them before. */
export function slowOscillators(chip) {
  const { rp2040, clock } = chip;
  const xosc = rp2040.peripherals[0x40024];
  const steady = xosc.readUint32.bind(xosc);
  const start = xosc.writeUint32.bind(xosc);
  let stable = Infinity;
  xosc.writeUint32 = (offset, value) => {
    start(offset, value);
    if (offset === 0 && xosc.enabled && stable === Infinity) {
      stable = clock.nanos + (xosc.startup & 0x3fff) * 256 * CRYSTAL_NS;
    }
  };
  xosc.readUint32 = (offset) => (offset === 4 && clock.nanos < stable ? steady(offset) & 0x7fffffff : steady(offset));
  for (const pll of [rp2040.pllSys, rp2040.pllUsb]) {
    const read = pll.readUint32.bind(pll);
    const write = pll.writeUint32.bind(pll);
    let locked = Infinity;
    pll.writeUint32 = (offset, value) => {
      write(offset, value);
      if (pll.pwr & 0x21) locked = Infinity;
      else if (locked === Infinity) locked = Math.max(clock.nanos, stable) + PLL_LOCK_NS;
    };
    pll.readUint32 = (offset) => (offset === 0 && clock.nanos < locked ? read(offset) & 0x7fffffff : read(offset));
    pll.runs = () => clock.nanos >= locked && !(pll.pwr & 8);
  }
  rp2040.addClockListener(() => {
    const source = rp2040.clocks.sysCtrl & 0xe1;
    if (source === 1 && !rp2040.pllSys.runs()) chip.fault('clk_sys runs from a PLL that is not ready');
    if (!(source & 1) && (rp2040.clocks.refCtrl & 3) === 2 && clock.nanos < stable) {
      chip.fault('clk_sys runs from a crystal that is not stable');
    }
  });
}

/** SysTick without its interrupt: it counts down to 0 and starts again one cycle later, as 2.4.5.1 has it. */
export function exactSysTick(chip) {
  const { ppb } = chip.rp2040;
  const read = ppb.readUint32.bind(ppb);
  const write = ppb.writeUint32.bind(ppb);
  let [on, reload, reloads] = [false, 0, 0]; // `reloads`: when it stands at its reload value
  ppb.systickAlarm.enable = false;
  ppb.readUint32 = (offset) => {
    if (offset === 0x10) return on ? 5 : 4;
    if (offset === 0x14) return reload;
    if (offset !== 0x18) return read(offset);
    const gone = Math.floor((chip.clock.nanos - reloads) / chip.cycleNs + 1e-6);
    return on && gone >= 0 ? reload - (gone % (reload + 1)) : 0;
  };
  ppb.writeUint32 = (offset, value) => {
    if (offset === 0x10) {
      if ((value & 7) !== 5 && value & 7) chip.fault('SysTick: only the core clock without interrupt is modelled');
      on = !!(value & 1);
      reloads = chip.clock.nanos + chip.cycleNs;
    } else if (offset === 0x14) reload = value & 0xffffff;
    else if (offset === 0x18) reloads = chip.clock.nanos + chip.cycleNs;
    else write(offset, value);
  };
}
