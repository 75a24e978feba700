/* From opto-coupler pulses to "live" and "dead".
 *
 * An AC opto-coupler conducts twice a line period while its input is live. Conduction with pauses under QUIET is one
 * burst (contact bounce, and every half-wave with slow or early turn-off). A burst counts once it has conducted for
 * CREDIBLE in all: shorter ones are noise. A dead input goes live once counted bursts, parted by less than OFF, have
 * conducted for ON in all; it is stamped with the first edge of the first of them. A live input goes dead once no
 * counted burst has conducted for OFF; it is stamped with the last edge. So qualification delays the report and never
 * the stamp. Where the last half-wave was a whole one, the voltage went somewhere in the pause after it: the stamp is
 * then half a pause (as measured while live) after the last edge. */
#ifndef SC_INPUTS_H
#define SC_INPUTS_H

#include <stdbool.h>
#include <stdint.h>

#include "platform.h"

enum {
    SC_QUIET_US = 3000,    /* over the dead time at a zero crossing (2.6 ms at 20 V, 50 Hz) */
    SC_CREDIBLE_US = 300,  /* a transient that gets through the opto-coupler lasts tens of microseconds */
    SC_ON_US = 6000,       /* most of a half-wave */
    SC_HALF_WAVE_US = 4000, /* shorter conduction is no half-wave (6.2 ms at 14 V, 50 Hz, 11 V threshold) */
    SC_ALIKE_US = 500,     /* two whole half-waves differ by no more, a supply that sags from 24 to 20 V included */
    SC_OFF_US = 15000      /* over the 12.5 ms pause of a half-wave signal (one polarity) at 50 Hz */
};

/* Declared bounds, in microseconds, for 20 V or more at 50 or 60 Hz and a threshold of 11 V or less: dead time at the
 * zero crossing, opto-coupler delay, stamping. Worst case of the parts; not measured on hardware. */
enum {
    SC_ON_LATEST_US = 2700,   /* stamp of "live" after the voltage came; never before it */
    SC_OFF_EARLIEST_US = 1600, /* stamp of "dead" before the voltage went: half a dead time, and a sag to 20 V */
    SC_OFF_LATEST_US = 1500,  /* stamp of "dead" after the voltage went */
    SC_BLIND_ON_US = 32000,   /* longest live pulse that can be missed (one polarity only; 12000 with both) */
    SC_BLIND_OFF_US = 16000   /* longest dead pulse that can be missed */
};

struct sc_input {
    uint32_t since;  /* us: last pin change, or where counting of conduction has come to */
    uint32_t begin;  /* us: first edge of the present burst; only with BURST */
    uint32_t first;  /* us: first edge of the burst that may be the start of "live"; only with CANDIDATE */
    uint32_t last;   /* us: last conduction that counted; only with CANDIDATE or LIVE */
    uint16_t burst;  /* us of conduction in the present burst, saturating */
    uint16_t total;  /* us of counted conduction since first, saturating */
    uint32_t rose;   /* us: first edge of the present conduction; only with ACTIVE */
    uint16_t pulse;  /* us of the last conduction that counted, saturating */
    uint16_t whole;  /* us of the last half-wave that another followed; 0: none yet */
    uint16_t pause;  /* us between those two */
    uint8_t flags;
};

struct sc_inputs {
    struct sc_input input[SC_CHANNELS];
    uint16_t pins;  /* bit n set: input n + 1 conducts now */
    uint16_t live;  /* bit n set: input n + 1 is reported live */
    uint32_t at;    /* us: the latest sample or settling; time never goes back from here */
    uint8_t count;
    /* Called at every change of *live*. channel from 0; at in us, the stamp. */
    void (*changed)(void *context, uint8_t channel, bool live, uint32_t at);
    void *context;
};

void sc_inputs_begin(struct sc_inputs *inputs, uint8_t count, uint32_t now);

/* The pins as sampled at *at* us; samples come in order. */
void sc_inputs_sample(struct sc_inputs *inputs, uint16_t pins, uint32_t at);

/* All samples before *now* us have been given. Call at least every 10 ms. */
void sc_inputs_settle(struct sc_inputs *inputs, uint32_t now);

/* How far before *now* a stamp yet to come may still lie, in us; a later report is never stamped earlier. */
uint32_t sc_inputs_unsettled(const struct sc_inputs *inputs, uint32_t now);

#endif
