/* The status registers of IEEE 488.2 and the error queue of SCPI. */
#ifndef SC_STATUS_H
#define SC_STATUS_H

#include <stdint.h>

#include "text.h"

/* Numbers and meanings are those of SCPI-99, volume 2, chapter 21. */
enum sc_error {
    SC_NO_ERROR = 0,
    SC_SYNTAX = -102,
    SC_DATA_TYPE = -104,
    SC_NOT_ALLOWED = -108,
    SC_MISSING = -109,
    SC_UNDEFINED = -113,
    SC_EXPRESSION = -171,
    SC_PROTECTED = -203,
    SC_CONFLICT = -221,
    SC_RANGE = -222,
    SC_ILLEGAL = -224,
    SC_HARDWARE = -240,
    SC_NO_HARDWARE = -241,
    SC_OVERFLOW = -350,
    SC_COMMUNICATION = -360,
    SC_OVERRUN = -363,
    SC_TIME_OUT = -365
};

enum { SC_OPC = 1, SC_DEVICE = 8, SC_EXECUTION = 16, SC_COMMAND = 32, SC_POWER_ON = 128 }; /* event register */
enum { SC_STB_ERRORS = 4, SC_STB_EVENT = 32, SC_STB_REQUEST = 64 };                         /* status byte */

enum { SC_ERRORS = 8 };

struct sc_status {
    uint8_t events;         /* *ESR? */
    uint8_t event_enable;   /* *ESE; 0 after power on */
    uint8_t request_enable; /* *SRE; 0 after power on; bit 6 is always 0 */
    uint8_t waiting;        /* errors in the queue; bound: SC_ERRORS */
    int16_t errors[SC_ERRORS];
};

void sc_status_begin(struct sc_status *status);
void sc_status_clear(struct sc_status *status);                 /* *CLS */
void sc_status_error(struct sc_status *status, int16_t error);  /* queues it and sets its bit of the event register */
int16_t sc_status_next(struct sc_status *status);               /* takes the oldest error; SC_NO_ERROR when empty */
uint8_t sc_status_byte(const struct sc_status *status);
void sc_put_error(struct sc_text *text, int16_t error);         /* -222,"Data out of range  (quote left open) */

#endif
