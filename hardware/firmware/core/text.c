#include "text.h"

#include "platform.h"

void sc_text_on(struct sc_text *text, char *start, uint8_t size) {
    text->start = start;
    text->used = 0;
    text->size = size;
}

void sc_put(struct sc_text *text, char c) {
    if (text->used < text->size) text->start[text->used++] = c;
}

void sc_put_flash(struct sc_text *text, const char *flash) {
    for (char c; (c = (char)SC_BYTE(flash)) != 0; flash++) sc_put(text, c);
}

void sc_put_text(struct sc_text *text, const char *string) {
    for (; *string; string++) sc_put(text, *string);
}

void sc_put_hex(struct sc_text *text, uint16_t value, uint8_t digits) {
    while (digits-- > 0) {
        uint8_t digit = (uint8_t)((value >> (4 * digits)) & 15);
        sc_put(text, (char)(digit < 10 ? '0' + digit : 'A' - 10 + digit));
    }
}

/* Subtracting is many times faster than dividing on a machine that cannot divide. */
static const uint32_t TENS[10] SC_FLASH = {1,      10,      100,      1000,      10000,
                                           100000, 1000000, 10000000, 100000000, 1000000000};

static void put_digits(struct sc_text *text, uint32_t value, uint8_t at_least) {
    for (uint8_t place = 10; place-- > 0;) {
        uint32_t ten = SC_LONG(&TENS[place]);
        char digit = '0';
        for (; value >= ten; value -= ten) digit++;
        if (digit > '0') at_least = place + 1;
        if (place < at_least) sc_put(text, digit);
    }
}

void sc_put_number(struct sc_text *text, uint32_t value) { put_digits(text, value, 1); }

void sc_put_signed(struct sc_text *text, int32_t value) {
    if (value < 0) sc_put(text, '-');
    sc_put_number(text, value < 0 ? (uint32_t)-value : (uint32_t)value);
}

/* Split at 10^9 by long division in binary; 21 bits of it last for 66 years. */
void sc_put_time(struct sc_text *text, uint64_t us) {
    uint64_t part = 1000000000ull << 20;
    uint32_t high = 0;
    for (uint8_t bit = 0; bit <= 20; bit++, part >>= 1) {
        high <<= 1;
        if (us < part) continue;
        us -= part;
        high |= 1;
    }
    if (high > 0) sc_put_number(text, high);
    put_digits(text, (uint32_t)us, high > 0 ? 9 : 1);
}
