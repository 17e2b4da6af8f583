// A block of registers as rp2040js wants it, with the four ways of writing (RP2040 data sheet, 2.1.2).

export class Block {
  constructor(chip, name) {
    this.chip = chip;
    this.name = name;
  }

  /** `read(offset)` and `write(offset, value, raw)` come from the block; `raw` is what stood on the bus. */
  readUint32(offset) {
    const value = this.read(offset);
    if (value !== undefined) return value >>> 0;
    this.chip.fault(`${this.name}: register ${offset.toString(16)} is not modelled`);
    return 0;
  }

  writeUint32Atomic(offset, raw, way) {
    const before = way ? this.readUint32(offset) : 0;
    const value = [raw, before ^ raw, before | raw, before & ~raw][way] >>> 0;
    if (this.write(offset, value, raw) === false) {
      this.chip.fault(`${this.name}: writing ${raw.toString(16)} to register ${offset.toString(16)} is not modelled`);
    }
  }

  writeUint32(offset, value) {
    this.writeUint32Atomic(offset, value, 0);
  }
}
