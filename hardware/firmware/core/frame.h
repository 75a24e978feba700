/* Frames: one line of ASCII with a tag, its length and a CRC-16. See protocol/SPECIFICATION.md.
 *
 *     KIND TAG " " LENGTH " " BODY " " CRC "\n"        >1A 0D ROUT:OPEN:ALL E6C6
 */
#ifndef SC_FRAME_H
#define SC_FRAME_H

#include <stdbool.h>
#include <stdint.h>

#include "platform.h"

enum {
    SC_HEAD = 7,          /* bytes before the body */
    SC_TAIL = 6,          /* bytes after the body, newline included */
    SC_COMMAND_MAX = 64,  /* longest body the board reads */
    SC_REPLY_MAX = 48 + 8 * SC_CHANNELS, /* longest body the board writes */
    SC_LINE_MAX = SC_HEAD + SC_COMMAND_MAX + SC_TAIL - 1, /* longest line the board reads, newline not counted */
    SC_OUT_MAX = SC_HEAD + SC_REPLY_MAX + SC_TAIL
};

struct sc_frame {
    char kind;        /* '>' command, '<' reply, '!' event */
    uint8_t tag;      /* chosen by the sender of a command, repeated in its reply; of an event, its number mod 256 */
    uint8_t length;   /* bytes of body, at least 1 */
    const char *body; /* inside the line, not terminated */
    uint16_t crc;     /* as sent and as found */
};

/* CRC-16 with polynomial 0x1021, start 0xFFFF, no reflection, no final inversion; "123456789" gives 0x29B1. */
#define SC_CRC_START 0xFFFFu
uint16_t sc_crc(uint16_t crc, uint8_t byte);

/* Reads a line without its newline. False, and *frame* undefined, unless every byte of it is as specified. */
bool sc_frame_open(const char *line, uint8_t count, struct sc_frame *frame);

/* Writes head and tail around a body that already lies at line + SC_HEAD. Returns the bytes of the whole line. */
uint8_t sc_frame_seal(char *line, char kind, uint8_t tag, uint8_t length);

#endif
