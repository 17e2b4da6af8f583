/* A Cortex-M0+ that counts cycles, for what tests call: an account of its own, apart from mixer's.
 *
 * Semantics as in the ARMv6-M Architecture Reference Manual (ARM DDI 0419), cycles as in the Cortex-M0+
 * Technical Reference Manual (ARM DDI 0484C), table 3-1, both written down here a second time. It knows no
 * interrupts, no peripherals and no waiting: code and data in SRAM. */
#include <stdint.h>
#include <string.h>

#define RAM 0x20000000u
#define RAM_BYTES 0x42000u
#define BACK 0xFFFFFFFEu

struct core {
    uint8_t *ram;
    uint32_t r[16];
    uint32_t n, z, c, v;
    uint32_t lowest; /* where the stack pointer stood lowest */
    uint32_t bad;    /* the address of what is not known here, or reads beside SRAM */
    uint64_t cycles;
};

struct step {
    uint32_t at, to, cycles, r[16];
};

static uint32_t load(struct core *m, uint32_t address, uint32_t size)
{
    uint32_t at = address - RAM, value = 0;
    if (at > RAM_BYTES - size || address % size) {
        m->bad = m->r[15];
        return 0;
    }
    memcpy(&value, m->ram + at, size);
    return value;
}

static void store(struct core *m, uint32_t address, uint32_t size, uint32_t value)
{
    uint32_t at = address - RAM;
    if (at > RAM_BYTES - size || address % size) {
        m->bad = m->r[15];
        return;
    }
    memcpy(m->ram + at, &value, size);
}

static uint32_t nz(struct core *m, uint32_t value)
{
    m->n = value >> 31;
    m->z = !value;
    return value;
}

static uint32_t add(struct core *m, uint32_t one, uint32_t other, uint32_t carry)
{
    uint64_t whole = (uint64_t)one + other + carry;
    uint32_t value = nz(m, (uint32_t)whole);
    m->c = (uint32_t)(whole >> 32);
    m->v = ((one ^ value) & (other ^ value)) >> 31;
    return value;
}

/* kind 0: to the left, 1: to the right, 2: to the right with the sign */
static uint32_t shift(struct core *m, uint32_t value, uint32_t kind, uint32_t amount)
{
    if (amount) {
        int64_t wide = kind == 2 ? (int64_t)(int32_t)value : (int64_t)value;
        amount = amount > 33 ? 33 : amount;
        m->c = (uint32_t)(kind ? wide >> (amount - 1) : wide << amount >> 32) & 1u;
        value = (uint32_t)(kind ? wide >> amount : (int64_t)((uint64_t)wide << amount));
    }
    return nz(m, value);
}

static uint32_t move_group(struct core *m, uint32_t op)
{
    uint32_t d = op & 7, s = op >> 3 & 7, five = op >> 6 & 31, kind = op >> 11;
    if (kind < 3) {
        m->r[d] = shift(m, m->r[s], kind, five ? five : kind ? 32 : 0);
    } else if (kind == 3) {
        uint32_t other = op & 0x400 ? op >> 6 & 7 : m->r[op >> 6 & 7], minus = op >> 9 & 1;
        m->r[d] = add(m, m->r[s], minus ? ~other : other, minus);
    } else {
        uint32_t to = op >> 8 & 7, number = op & 255;
        if (kind == 4) {
            m->r[to] = nz(m, number);
        } else if (kind == 5) {
            add(m, m->r[to], ~number, 1);
        } else {
            m->r[to] = add(m, m->r[to], kind == 6 ? number : ~number, kind == 7);
        }
    }
    return 1;
}

static uint32_t data_group(struct core *m, uint32_t op)
{
    uint32_t d = op & 7, one = m->r[d], other = m->r[op >> 3 & 7], low = other & 255;
    switch (op >> 6 & 15) {
    case 0: m->r[d] = nz(m, one & other); break;
    case 1: m->r[d] = nz(m, one ^ other); break;
    case 2: m->r[d] = shift(m, one, 0, low); break;
    case 3: m->r[d] = shift(m, one, 1, low); break;
    case 4: m->r[d] = shift(m, one, 2, low); break;
    case 5: m->r[d] = add(m, one, other, m->c); break;
    case 6: m->r[d] = add(m, one, ~other, m->c); break;
    case 7:
        if (low) {
            one = low % 32 ? one >> low % 32 | one << (32 - low % 32) : one;
            m->c = one >> 31;
        }
        m->r[d] = nz(m, one);
        break;
    case 8: nz(m, one & other); break;
    case 9: m->r[d] = add(m, ~other, 0, 1); break;
    case 10: add(m, one, ~other, 1); break;
    case 11: add(m, one, other, 0); break;
    case 12: m->r[d] = nz(m, one | other); break;
    case 13: m->r[d] = nz(m, one * other); break;
    case 14: m->r[d] = nz(m, one & ~other); break;
    default: m->r[d] = nz(m, ~other); break;
    }
    return 1;
}

static uint32_t high_group(struct core *m, uint32_t op, uint32_t at)
{
    uint32_t d = (op & 7) | (op >> 4 & 8), s = op >> 3 & 15;
    uint32_t value = s == 15 ? at + 4 : m->r[s];
    switch (op >> 8 & 3) {
    case 0: m->r[d] += value; return 1;
    case 1: add(m, m->r[d], ~value, 1); return 1;
    case 2: m->r[d] = value; return 1;
    default:
        if (op & 0x80) {
            m->r[14] = (at + 2) | 1;
        }
        m->r[15] = value & ~1u;
        return 2;
    }
}

static uint32_t memory_group(struct core *m, uint32_t op)
{
    static const uint8_t sizes[] = {4, 2, 1, 1, 4, 2, 1, 2};
    uint32_t d = op & 7, base = m->r[op >> 3 & 7], size, address, is_load = op >> 11 & 1, sign = 0;
    switch (op >> 12) {
    case 5:
        size = sizes[op >> 9 & 7];
        is_load = (op >> 9 & 7) > 2;
        sign = (op >> 9 & 7) == 3 || (op >> 9 & 7) == 7;
        address = base + m->r[op >> 6 & 7];
        break;
    case 9:
        size = 4;
        d = op >> 8 & 7;
        address = m->r[13] + 4 * (op & 255);
        break;
    default:
        size = op >> 12 == 6 ? 4 : op >> 12 == 7 ? 1 : 2;
        address = base + size * (op >> 6 & 31);
        break;
    }
    if (!is_load) {
        store(m, address, size, m->r[d]);
    } else {
        uint32_t value = load(m, address, size);
        m->r[d] = !sign ? value : size == 1 ? (uint32_t)(int32_t)(int8_t)value : (uint32_t)(int32_t)(int16_t)value;
    }
    return 2;
}

/* Registers of a list go to or come from memory, the lowest first. */
static uint32_t many(struct core *m, uint32_t list, uint32_t address, uint32_t is_load)
{
    uint32_t register_;
    for (register_ = 0; register_ < 16; register_++) {
        if (list >> register_ & 1) {
            if (is_load) {
                m->r[register_] = load(m, address, 4);
            } else {
                store(m, address, 4, m->r[register_]);
            }
            address += 4;
        }
    }
    return address;
}

static uint32_t misc_group(struct core *m, uint32_t op)
{
    uint32_t d = op & 7, value = m->r[op >> 3 & 7], list;
    switch (op >> 8) {
    case 0xB0: m->r[13] += 4 * (op & 127) * (op & 0x80 ? ~0u : 1u); return 1;
    case 0xB2:
        m->r[d] = op & 0x80 ? value & (op & 0x40 ? 0xFFu : 0xFFFFu)
            : op & 0x40 ? (uint32_t)(int32_t)(int8_t)value : (uint32_t)(int32_t)(int16_t)value;
        return 1;
    case 0xB4: case 0xB5:
        list = (op & 255) | (op & 0x100 ? 1u << 14 : 0);
        m->r[13] -= 4 * (uint32_t)__builtin_popcount(list);
        many(m, list, m->r[13], 0);
        return 1 + (uint32_t)__builtin_popcount(list);
    case 0xBC: case 0xBD:
        list = (op & 255) | (op & 0x100 ? 1u << 15 : 0);
        m->r[13] = many(m, list, m->r[13], 1);
        m->r[15] &= ~1u;
        return (op & 0x100 ? 3 : 1) + (uint32_t)__builtin_popcount(list);
    case 0xBA:
        if (op >> 6 == 0xBA00 >> 6) {
            m->r[d] = __builtin_bswap32(value);
            return 1;
        }
        break;
    case 0xBF:
        if (op == 0xBF00) {
            return 1;
        }
        break;
    default: break;
    }
    m->bad = m->r[15];
    return 1;
}

static uint32_t holds(const struct core *m, uint32_t condition)
{
    const uint32_t kinds[] = {m->z, m->c, m->n, m->v, m->c && !m->z, m->n == m->v, !m->z && m->n == m->v, 1};
    return kinds[condition >> 1] ^ (condition & 1);
}

static uint32_t branch_group(struct core *m, uint32_t op, uint32_t at)
{
    uint32_t second, sign, number;
    if (op >> 12 == 13) {
        if (!holds(m, op >> 8 & 15)) {
            return 1;
        }
        m->r[15] = at + 4 + 2 * (uint32_t)(int32_t)(int8_t)(op & 255);
        return 2;
    }
    if (op >> 11 == 0x1C) {
        m->r[15] = at + 4 + 2 * ((op & 0x7FF) - (op & 0x400 ? 0x800u : 0));
        return 2;
    }
    second = load(m, at + 2, 2);
    if (op >> 11 != 0x1E || second >> 14 != 3) {
        m->bad = at;
    }
    sign = op >> 10 & 1;
    number = sign << 24 | (~((second >> 13) ^ sign) & 1) << 23 | (~((second >> 11) ^ sign) & 1) << 22
        | (op & 0x3FF) << 12 | (second & 0x7FF) << 1;
    m->r[14] = (at + 4) | 1;
    m->r[15] = at + 4 + number - (sign << 25);
    return 3;
}

static uint32_t one_step(struct core *m)
{
    uint32_t at = m->r[15], op = load(m, at, 2), d = op >> 8 & 7;
    m->r[15] = at + 2;
    switch (op >> 12) {
    case 0: case 1: case 2: case 3: return move_group(m, op);
    case 4:
        if (op >> 10 == 0x10) {
            return data_group(m, op);
        }
        if (op >> 10 == 0x11) {
            return high_group(m, op, at);
        }
        m->r[d] = load(m, ((at + 4) & ~3u) + 4 * (op & 255), 4);
        return 2;
    case 5: case 6: case 7: case 8: case 9: return memory_group(m, op);
    case 10: m->r[d] = (op & 0x800 ? m->r[13] : (at + 4) & ~3u) + 4 * (op & 255); return 1;
    case 11: return misc_group(m, op);
    case 12: {
        uint32_t base = m->r[d], end = many(m, op & 255, base, op >> 11 & 1);
        if (!(op & 0x800) || !(op >> d & 1)) {
            m->r[d] = end;
        }
        return 1 + (uint32_t)__builtin_popcount(op & 255);
    }
    default: return branch_group(m, op, at);
    }
}

/* Run until the routine at r15 returns; the first `room` steps are written down. Gives their number. */
uint32_t m0_call(struct core *m, struct step *steps, uint32_t room)
{
    uint32_t count = 0;
    m->r[13] = m->lowest = RAM + RAM_BYTES;
    m->r[14] = BACK | 1;
    while (m->r[15] != BACK && !m->bad) {
        uint32_t at = m->r[15], cycles;
        if (count < room) {
            memcpy(steps[count].r, m->r, sizeof m->r);
        }
        cycles = one_step(m);
        m->cycles += cycles;
        if (count < room) {
            steps[count].at = at;
            steps[count].to = m->r[15];
            steps[count++].cycles = cycles;
        }
        if (m->r[13] < m->lowest) {
            m->lowest = m->r[13];
        }
    }
    return count;
}
