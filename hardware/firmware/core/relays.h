/* The relays and the second wall: what the board itself refuses, whatever the host asks. */
#ifndef SC_RELAYS_H
#define SC_RELAYS_H

#include <stdbool.h>
#include <stdint.h>

#include "platform.h"

enum sc_stop {
    SC_STOP_NONE,
    SC_STOP_COMMAND,   /* the host said STOP */
    SC_STOP_SILENT,    /* no valid line from the host for SC_SILENT_US */
    SC_STOP_READBACK,  /* a call wire was live with its relay open */
    SC_STOP_WATCHDOG,  /* the last reset came from the watchdog */
    SC_STOP_BROWNOUT   /* the last reset came from low supply */
};

enum sc_refusal { SC_ALLOWED, SC_STOPPED, SC_UNLOCKED, SC_MINIMUM, SC_EXCLUSIVE };

#define SC_READBACK_US 250000ul /* how long a call wire may disagree with its relay */

struct sc_relays {
    uint16_t closed;  /* bit n set: relay n + 1 is driven */
    bool master;      /* the master relay is driven */
    bool locked;      /* the tables below are complete; before that nothing closes; *RST opens and unlocks */
    uint8_t count;
    enum sc_stop stop;                  /* latched until cleared */
    uint32_t minimum[SC_CHANNELS];      /* ms a compressor call stays open; bound 3600000; 0: no compressor call */
    uint32_t opened[SC_CHANNELS];       /* ms: when the relay last stopped conducting (start of the board at first) */
    uint16_t exclusive[SC_CHANNELS];    /* relays that may not be closed together with this one; 0: none */
    uint8_t readback[SC_CHANNELS];      /* input on the relay's call wire, from 1; 0: none; set by sc_relays_read_back */
    uint16_t watched;                   /* bit n set: relay n + 1 has such an input ... */
    uint16_t wires;                     /* ... and it was live when the inputs were ... */
    uint16_t seen;                      /* ... as here */
    uint16_t readback_stops;            /* bit n set: a live wire with relay n + 1 open stops everything */
    uint16_t disagrees;                 /* bit n set: relay and wire have been apart since ... */
    uint16_t disagreed;                 /* bit n set: ... long enough that it was reported */
    uint32_t apart[SC_CHANNELS];        /* us: since when; only where disagrees */
    void (*drive)(void *context, uint16_t closed, bool master);
    /* Called where relay and call wire have been apart for SC_READBACK_US. relay from 0. */
    void (*apart_for_long)(void *board, uint8_t relay, bool live);
    void *context;  /* for drive */
    void *board;    /* for apart_for_long */
};

void sc_relays_begin(struct sc_relays *relays, uint8_t count, uint32_t now_ms);
void sc_relays_reset(struct sc_relays *relays, uint32_t now_ms); /* all open, tables empty, unlocked; not the latch */

/* Drives exactly these relays, or refuses and changes nothing. *which* gets the first relay at fault, from 0. */
enum sc_refusal sc_relays_set(struct sc_relays *relays, uint16_t closed, bool master, uint32_t now_ms, uint8_t *which);

/* Opens everything at once and latches the reason; the first reason stays. */
void sc_relays_stop(struct sc_relays *relays, enum sc_stop stop, uint32_t now_ms);

/* ms until the minimum open time of the relay has passed, 0 where it may close; relay from 0. */
uint32_t sc_relays_rest(const struct sc_relays *relays, uint8_t relay, uint32_t now_ms);

/* *input*, from 1, is on the call wire of *relay*, from 0. */
void sc_relays_read_back(struct sc_relays *relays, uint8_t relay, uint8_t input);

/* Compares the call wires with the relays. */
void sc_relays_compare(struct sc_relays *relays, uint16_t live, uint32_t now_us);

#endif
