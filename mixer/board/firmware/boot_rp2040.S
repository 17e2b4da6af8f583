/* Boot stage 2 of the RP2040 (data sheet 2.8.1): the first 256 bytes of flash. The chip's ROM copies them into RAM,
 * checks the CRC in the last four and runs them. They let flash be read as memory, copy the image into RAM, where it was
 * linked to run, and start it: from then on no instruction waits for flash.
 *
 * The image says itself where it ends, in its unused vector 7. So these bytes are always the same, and their CRC stands
 * below as a number; uf2.c refuses to pack an image where it is wrong and says the right one.
 */
        .file "boot_rp2040.S" /* else the linker names the compiler's scratch file, another one each time */
        .syntax unified
        .cpu cortex-m0plus
        .thumb

        .equ IMAGE_IN_FLASH, 0x10000100
        .equ IMAGE, 0x20000000
        .equ IMAGE_END_VECTOR, 7 * 4

        .section .boot, "ax"
        .global boot
        .type boot, %function
        .thumb_func
boot:
        ldr   r0, =0x18000000   /* the flash interface, 4.10 */
        movs  r1, #0
        str   r1, [r0, #0x08]   /* SSIENR: off while it is set */
        movs  r1, #2
        str   r1, [r0, #0x14]   /* BAUDR: half of clk_sys, which is the ring oscillator's 6 MHz or so here */
        ldr   r1, =0x001F0300   /* CTRLR0: 32 bits at a time, standard SPI, an address sent for each read */
        str   r1, [r0, #0x00]
        movs  r1, #0
        str   r1, [r0, #0x04]   /* CTRLR1: one at a time */
        ldr   r1, =0x03000218   /* SPI_CTRLR0: command 03 (read, which every flash knows), 8 bits, then 24 of address */
        adds  r0, #0xF4
        str   r1, [r0]
        subs  r0, #0xF4
        movs  r1, #1
        str   r1, [r0, #0x08]

        ldr   r0, =IMAGE_IN_FLASH
        ldr   r1, =IMAGE
        ldr   r2, [r0, #IMAGE_END_VECTOR]
copy:   ldmia r0!, {r3}
        stmia r1!, {r3}
        cmp   r1, r2
        blo   copy

        ldr   r0, =IMAGE
        ldr   r1, =0xE000ED08   /* VTOR */
        str   r0, [r1]
        ldr   r1, [r0]
        msr   msp, r1
        ldr   r1, [r0, #4]
        bx    r1

        .ltorg
        .org  252
        .word 0xAAA9D4A0        /* CRC-32 of the 252 bytes above: polynomial 04C11DB7, start FFFFFFFF, highest bit first */
