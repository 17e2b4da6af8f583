/* Tables stay in flash: an AVR has instructions of its own for reading them there. */
#if defined(__AVR__)
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define READ_WORD(number) (pgm_read_word(&(number)))
#define READ_BYTE(number) (pgm_read_byte(&(number)))
#else
#define IN_FLASH
#define READ_WORD(number) (number)
#define READ_BYTE(number) (number)
#endif
