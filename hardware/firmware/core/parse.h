/* Reading a program message: one header and its parameters. */
#ifndef SC_PARSE_H
#define SC_PARSE_H

#include <stdbool.h>
#include <stdint.h>

struct sc_parse {
    const char *at;   /* next byte */
    const char *end;  /* one past the last */
    int16_t error;    /* first thing that went wrong; SC_NO_ERROR while all is well */
};

/* Takes the header where it is *pattern* (capitals: short form; all of it: long form; case does not matter). */
bool sc_header(struct sc_parse *parse, const char *pattern_in_flash);

/* Each takes one parameter, and the comma before it unless it is the first. On error they return 0. */
uint32_t sc_number(struct sc_parse *parse, bool first, uint32_t most);
uint16_t sc_channels(struct sc_parse *parse, bool first, uint8_t count); /* (@1,3:5): bit n for channel n + 1 */
uint8_t sc_channel(struct sc_parse *parse, bool first, uint8_t count);   /* (@3): 3 */
bool sc_word(struct sc_parse *parse, bool first, const char *pattern_in_flash); /* false, no error: another word */

/* Nothing may follow. */
void sc_no_more(struct sc_parse *parse);

#endif
