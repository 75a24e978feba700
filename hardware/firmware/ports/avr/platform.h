/* Tables stay in flash: the small part has 2 KiB of RAM. */
#ifndef SC_PLATFORM_H
#define SC_PLATFORM_H

#include <avr/pgmspace.h>

#define SC_FLASH PROGMEM
#define SC_BYTE(p) pgm_read_byte(p)
#define SC_INT(p) ((int16_t)pgm_read_word(p))
#define SC_LONG(p) pgm_read_dword(p)

#if defined(__AVR_ATmega328P__)
#define SC_CHANNELS 8
#define SC_EVENTS 16
#elif defined(__AVR_ATmega2560__)
#define SC_CHANNELS 16
#define SC_EVENTS 48
#else
#error "no pins are assigned for this part"
#endif

#endif
