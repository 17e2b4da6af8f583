/* The RP2040's registers that this firmware uses, by the names of the RP2040 data sheet; the section stands with each block. */
#ifndef RP2040_H
#define RP2040_H

#include <stdint.h>

#define REGISTER(address) (*(volatile uint32_t *)(address))

/* 2.1.2: every peripheral register is there three more times. Writing there flips, sets or clears the bits that are 1. */
#define SET_BITS(address) REGISTER((address) + 0x2000UL)
#define CLEAR_BITS(address) REGISTER((address) + 0x3000UL)

/* 2.3.1: single-cycle I/O. One bit a pin. */
#define SIO_GPIO_IN REGISTER(0xD0000004UL)
#define SIO_GPIO_OUT_SET REGISTER(0xD0000014UL)
#define SIO_GPIO_OUT_CLR REGISTER(0xD0000018UL)
#define SIO_GPIO_OE_SET REGISTER(0xD0000024UL)

/* 2.3.2: numbers of interrupts. */
#define IRQ_TIMER_0 0U
#define IRQ_IO_BANK0 13U
#define IRQ_UART0 20U

/* 2.4.8: the core's own. Priorities have two bits, 0 is the most urgent. */
#define SYST_CSR REGISTER(0xE000E010UL)
#define SYST_CSR_ENABLE_ON_CORE_CLOCK 5UL
#define SYST_RVR REGISTER(0xE000E014UL)
#define SYST_CVR REGISTER(0xE000E018UL)
#define NVIC_ISER REGISTER(0xE000E100UL)
#define NVIC_ICER REGISTER(0xE000E180UL)
#define NVIC_IPR(irq) REGISTER(0xE000E400UL + 4UL * ((irq) / 4U))
#define NVIC_PRIORITY(irq, priority) ((uint32_t)(priority) << (8U * ((irq) % 4U) + 6U))

/* 2.10, 2.12: brown-out detection and what reset the chip. */
#define VREG_BOD REGISTER(0x40064004UL)
#define VREG_BOD_ENABLE 1UL
#define VREG_BOD_0_946_VOLTS (11UL << 4)
#define CHIP_RESET REGISTER(0x40064008UL)
#define CHIP_RESET_HAD_POR (1UL << 8) /* power-on or brown-out */
#define CHIP_RESET_HAD_RUN (1UL << 16) /* the RUN pin */

/* 2.13: power-on state machine. What the watchdog resets: all but the two oscillators. */
#define PSM_WDSEL REGISTER(0x40010008UL)
#define PSM_ALL_BUT_OSCILLATORS 0x1FFFCUL

/* 2.14: which blocks are held in reset. */
#define RESETS_RESET 0x4000C000UL
#define RESETS_DONE REGISTER(0x4000C008UL)
#define RESETS_ADC (1UL << 0)
#define RESETS_IO_BANK0 (1UL << 5)
#define RESETS_PADS_BANK0 (1UL << 8)
#define RESETS_PLL_SYS (1UL << 12)
#define RESETS_PLL_USB (1UL << 13)
#define RESETS_PWM (1UL << 14)
#define RESETS_TIMER (1UL << 21)
#define RESETS_UART0 (1UL << 22)

/* 2.15: clocks. */
#define CLK_REF_CTRL REGISTER(0x40008030UL)
#define CLK_REF_FROM_XOSC 2UL
#define CLK_REF_SELECTED REGISTER(0x40008038UL)
#define CLK_SYS_CTRL REGISTER(0x4000803CUL)
#define CLK_SYS_FROM_REF 0UL
#define CLK_SYS_FROM_PLL 1UL
#define CLK_SYS_SELECTED REGISTER(0x40008044UL)
#define CLK_PERI_CTRL REGISTER(0x40008048UL)
#define CLK_ADC_CTRL REGISTER(0x40008060UL)
#define CLK_ENABLE (1UL << 11) /* and the first auxiliary source: clk_sys for clk_peri, pll_usb for clk_adc */

/* 2.16: crystal oscillator. */
#define XOSC_CTRL 0x40024000UL
#define XOSC_CTRL_1_TO_15_MHZ 0xAA0UL
#define XOSC_CTRL_ENABLE 0xFAB000UL
#define XOSC_STATUS REGISTER(0x40024004UL)
#define XOSC_STATUS_STABLE (1UL << 31)
#define XOSC_STARTUP REGISTER(0x4002400CUL) /* in 256 of its periods */

/* 2.18: phase-locked loops. */
#define PLL_SYS 0x40028000UL
#define PLL_USB 0x4002C000UL
#define PLL_CS(pll) REGISTER(pll)
#define PLL_CS_LOCK (1UL << 31)
#define PLL_PWR(pll) ((pll) + 0x4UL)
#define PLL_PWR_DOWN_AND_VCO 0x21UL
#define PLL_PWR_POST_DIVIDERS 0x8UL
#define PLL_FBDIV(pll) REGISTER((pll) + 0x8UL)
#define PLL_PRIM(pll) REGISTER((pll) + 0xCUL)

/* 2.19: pins. Functions, edge interrupts (four bits a pin, eight pins a register), pads. */
#define IO_CTRL(pin) REGISTER(0x40014004UL + 8UL * (pin))
#define IO_FUNCTION_UART 2UL
#define IO_FUNCTION_PWM 4UL
#define IO_FUNCTION_SIO 5UL
#define IO_INTR(eight) REGISTER(0x400140F0UL + 4UL * (eight))
#define IO_PROC0_INTE(eight) (0x40014100UL + 4UL * (eight))
#define IO_BOTH_EDGES 0xCUL
#define PADS_GPIO(pin) REGISTER(0x4001C004UL + 4UL * (pin))
#define PADS_OUTPUT_DISABLE 0x80UL
#define PADS_INPUT_ENABLE 0x40UL
#define PADS_4_MILLIAMPERES 0x10UL
#define PADS_PULL_UP 0x08UL
#define PADS_PULL_DOWN 0x04UL
#define PADS_SCHMITT 0x02UL

/* 4.2: serial port. */
#define UART0_DR REGISTER(0x40034000UL)
#define UART0_FR REGISTER(0x40034018UL)
#define UART_FR_SEND_FULL (1UL << 5)
#define UART0_IBRD REGISTER(0x40034024UL)
#define UART0_FBRD REGISTER(0x40034028UL)
#define UART0_LCR_H REGISTER(0x4003402CUL)
#define UART_LCR_H_8_BITS_FIFO 0x70UL
#define UART0_CR REGISTER(0x40034030UL)
#define UART_CR_ENABLE_SEND 0x101UL
#define UART0_IMSC REGISTER(0x40034038UL)
#define UART_INTERRUPT_SEND (1UL << 5)

/* 4.5: eight PWM slices of two outputs each. */
#define PWM_SLICE(pin) (((pin) >> 1) & 7U)
#define PWM_CSR(slice) REGISTER(0x40050000UL + 0x14UL * (slice))
#define PWM_DIV(slice) REGISTER(0x40050004UL + 0x14UL * (slice))
#define PWM_CTR(slice) REGISTER(0x40050008UL + 0x14UL * (slice))
#define PWM_CC(slice) REGISTER(0x4005000CUL + 0x14UL * (slice))
#define PWM_TOP(slice) REGISTER(0x40050010UL + 0x14UL * (slice))
#define PWM_INTR REGISTER(0x400500A4UL)

/* 4.6: timer, in µs. */
#define TIMER_ALARM0 REGISTER(0x40054010UL)
#define TIMER_TIMERAWL REGISTER(0x40054028UL)
#define TIMER_INTR REGISTER(0x40054034UL)
#define TIMER_INTE REGISTER(0x40054038UL)

/* 4.7: watchdog. It counts down by two a µs (erratum RP2040-E1). */
#define WATCHDOG_CTRL REGISTER(0x40058000UL)
#define WATCHDOG_CTRL_TRIGGER (1UL << 31)
#define WATCHDOG_CTRL_ENABLE (1UL << 30)
#define WATCHDOG_LOAD REGISTER(0x40058004UL)
#define WATCHDOG_REASON REGISTER(0x40058008UL)
#define WATCHDOG_TICK REGISTER(0x4005802CUL)
#define WATCHDOG_TICK_ENABLE (1UL << 9)

/* 4.9: analog inputs. */
#define ADC_CS REGISTER(0x4004C000UL)
#define ADC_CS_ENABLE 1UL
#define ADC_CS_START_ONE (1UL << 2)
#define ADC_CS_READY (1UL << 8)
#define ADC_CS_INPUT(input) ((uint32_t)(input) << 12)
#define ADC_RESULT REGISTER(0x4004C004UL)
#define ADC_FIRST_PIN 26U

#endif
