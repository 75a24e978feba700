/* Writing into a bounded piece of memory; what does not fit is left out. */
#ifndef SC_TEXT_H
#define SC_TEXT_H

#include <stdint.h>

struct sc_text {
    char *start;   /* where the piece begins */
    uint8_t used;  /* bytes written; bound: size */
    uint8_t size;  /* bytes there are; zero takes nothing */
};

void sc_text_on(struct sc_text *text, char *start, uint8_t size);
void sc_put(struct sc_text *text, char c);
void sc_put_flash(struct sc_text *text, const char *flash);  /* a terminated string in an SC_FLASH table */
void sc_put_text(struct sc_text *text, const char *string);
void sc_put_hex(struct sc_text *text, uint16_t value, uint8_t digits);
void sc_put_number(struct sc_text *text, uint32_t value);
void sc_put_signed(struct sc_text *text, int32_t value);
void sc_put_time(struct sc_text *text, uint64_t us);          /* decimal microseconds; bound 66 years */

#endif
