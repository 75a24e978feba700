#include "frame.h"

#include "text.h"

uint16_t sc_crc(uint16_t crc, uint8_t byte) {
    crc ^= (uint16_t)((uint16_t)byte << 8);
    for (uint8_t bit = 0; bit < 8; bit++) crc = (uint16_t)((uint16_t)(crc << 1) ^ (crc & 0x8000u ? 0x1021u : 0u));
    return crc;
}

/* Only capital digits: a flipped case bit must not go unseen. */
static bool read_hex(const char *at, uint8_t digits, uint16_t *value) {
    *value = 0;
    for (; digits > 0; digits--, at++) {
        uint8_t digit;
        if (*at >= '0' && *at <= '9') digit = (uint8_t)(*at - '0');
        else if (*at >= 'A' && *at <= 'F') digit = (uint8_t)(*at - 'A' + 10);
        else return false;
        *value = (uint16_t)((*value << 4) | digit);
    }
    return true;
}

bool sc_frame_open(const char *line, uint8_t count, struct sc_frame *frame) {
    uint16_t tag, length, crc = SC_CRC_START;
    if (count < SC_HEAD + 1 + SC_TAIL - 1) return false;
    if (line[0] != '>' && line[0] != '<' && line[0] != '!') return false;
    if (!read_hex(line + 1, 2, &tag) || line[3] != ' ') return false;
    if (!read_hex(line + 4, 2, &length) || line[6] != ' ') return false;
    if (length == 0 || length + SC_HEAD + SC_TAIL - 1 != count) return false;
    if (line[SC_HEAD + length] != ' ' || !read_hex(line + SC_HEAD + length + 1, 4, &frame->crc)) return false;
    for (uint8_t i = 0; i < SC_HEAD + length; i++) {
        if (line[i] < ' ' || line[i] > '~') return false;
        crc = sc_crc(crc, (uint8_t)line[i]);
    }
    if (crc != frame->crc) return false;
    frame->kind = line[0];
    frame->tag = (uint8_t)tag;
    frame->length = (uint8_t)length;
    frame->body = line + SC_HEAD;
    return true;
}

uint8_t sc_frame_seal(char *line, char kind, uint8_t tag, uint8_t length) {
    uint16_t crc = SC_CRC_START;
    struct sc_text text;
    sc_text_on(&text, line, SC_HEAD);
    sc_put(&text, kind);
    sc_put_hex(&text, tag, 2);
    sc_put(&text, ' ');
    sc_put_hex(&text, length, 2);
    sc_put(&text, ' ');
    for (uint8_t i = 0; i < SC_HEAD + length; i++) crc = sc_crc(crc, (uint8_t)line[i]);
    sc_text_on(&text, line + SC_HEAD + length, SC_TAIL);
    sc_put(&text, ' ');
    sc_put_hex(&text, crc, 4);
    sc_put(&text, '\n');
    return (uint8_t)(SC_HEAD + length + SC_TAIL);
}
