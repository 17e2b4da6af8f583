; The interrupts. The first notes when something changed, and how all channel wires stand: 39 cycles and the way in and out.
;
; Both ports share it, so that edges at the same moment get the same stamp. It changes no flag, so none is saved.
; The ring is 64 entries of 4 bytes on a page of its own: the low address byte wraps by itself.
; An edge that comes while it runs is stamped by its next run, 3 us later at most; that bounds the error.
#include <avr/io.h>

        .section .bss.capture_ring, "aw", @nobits
        .global capture_ring
        .global capture_head
        .balign 256
capture_ring:
        .skip 256
        .section .bss.capture_head, "aw", @nobits
capture_head:
        .skip 1

        .text
        .global PCINT0_vect
        .global PCINT1_vect
PCINT0_vect:
PCINT1_vect:
        push r24
        lds  r24, TCNT1L
        push r25
        lds  r25, TCNT1H
        push r30
        push r31
        lds  r30, capture_head
        ldi  r31, hi8(capture_ring)
        st   Z+, r24
        st   Z+, r25
        in   r24, _SFR_IO_ADDR(PINB)
        st   Z+, r24
        in   r24, _SFR_IO_ADDR(PINC)
        st   Z+, r24
        sts  capture_head, r30
        pop  r31
        pop  r30
        pop  r25
        pop  r24
        reti

; Once a period of the clock, 20 ms: count it. It lets itself be interrupted at once, so that it smears a stamp by no more
; than its first instructions: 10 cycles, 0.6 us. It touches none of the 16-bit registers, whose latch others may be using.
        .global TIMER1_OVF_vect
TIMER1_OVF_vect:
        sei
        push r24
        in   r24, _SFR_IO_ADDR(SREG)
        push r24
        in   r24, _SFR_IO_ADDR(GPIOR0)
        inc  r24
        out  _SFR_IO_ADDR(GPIOR0), r24
        pop  r24
        out  _SFR_IO_ADDR(SREG), r24
        pop  r24
        reti
