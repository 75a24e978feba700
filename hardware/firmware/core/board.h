/* A relay and sense board, whatever it is made of. Fill in a port, begin, then turn for ever. */
#ifndef SC_BOARD_H
#define SC_BOARD_H

#include <stdbool.h>
#include <stdint.h>

#include "frame.h"
#include "inputs.h"
#include "relays.h"
#include "status.h"

#define SC_CODE_VERSION "1.0.0" /* of this firmware; changes with every release */
enum { SC_WIRE_VERSION = 1 };   /* of the protocol; changes only where an old host would misunderstand */

/* No valid line for so long opens everything: 1.0 s less a relay's release, a turn and the clock's tolerance. */
#define SC_SILENT_US 950000ul

enum { SC_LOOK_US = 3000 }; /* how often inputs, wires and silence are looked at */

enum sc_cause { SC_POWER, SC_EXTERNAL, SC_BROWNOUT, SC_WATCHDOG }; /* of the last reset */

enum sc_sampled { SC_NO_SAMPLE, SC_SAMPLE, SC_SAMPLES_LOST };

/* What the board needs from what it is made of. Every function is called from sc_begin and sc_turn only, never
 * waits, and gets *context* first. None may be null unless it says so. */
struct sc_port {
    void *context;         /* the port's own; may be null */
    const char *model;     /* for *IDN?; printable, no comma; bound 24 bytes */
    uint8_t relays;        /* bound 1 to SC_CHANNELS */
    uint8_t inputs;        /* bound 1 to SC_CHANNELS */
    uint8_t analogs;       /* bound 0 to 16; 0: none */
    enum sc_cause cause;   /* of the last reset; zero is power on */

    uint64_t (*now)(void *context);                                 /* us since the board started; never goes back */
    void (*drive)(void *context, uint16_t closed, bool master);     /* bit n: relay n + 1; takes effect at once */
    bool (*receive)(void *context, uint8_t *byte);                  /* false: nothing has come; a damaged byte is 0 */
    uint8_t (*send)(void *context, const char *bytes, uint8_t count); /* how many were taken; 0: no room now */
    /* The next sample of the input pins in order of time. *pins*: bit n, input n + 1 conducts; *at*: us, as now but
     * of 32 bits. After SC_SAMPLES_LOST the next sample holds the pins as they are by then. */
    enum sc_sampled (*sample)(void *context, uint16_t *pins, uint32_t *at);
    uint16_t (*millivolts)(void *context, uint8_t analog);          /* from 0; null where there are none */
    uint8_t (*self_test)(void *context);                            /* 0: passed */
    uint32_t (*serial)(void *context);                              /* kept number; 0: none was given */
    void (*keep_serial)(void *context, uint32_t serial);            /* over power off; may take 40 ms */
};

enum { SC_OWED = 4 };

struct sc_event {
    uint32_t number; /* counts every event since the board started, sent or lost */
    uint64_t at;     /* us */
    uint8_t kind;
    uint8_t what;    /* channel from 1, or a reason */
    uint8_t state;
};

struct sc_board {
    const struct sc_port *port;
    struct sc_inputs inputs;
    struct sc_relays relays;
    struct sc_status status;
    uint64_t now;             /* us, read once a turn */
    uint32_t ms;              /* whole ms since the board started, at the last turn ... */
    uint32_t ms_at;           /* us: ... that began here */
    uint32_t settled;         /* us: when inputs, wires and silence were last looked at */
    uint32_t heard;           /* us: the host's last valid line */
    uint16_t refused;         /* lines that were not as specified, mod 65536 */

    char line[SC_LINE_MAX];   /* what is being received */
    uint8_t line_used;        /* over SC_LINE_MAX: too long, wait for its end */
    bool waiting;             /* line holds a valid command that has not been carried out */
    uint8_t owed;             /* waiting events that go before the next command: neither starves the other */
    struct sc_frame command;

    char reply[SC_OUT_MAX];   /* kept for a host that asks again */
    uint8_t reply_length;
    uint8_t reply_sent;
    bool answered;            /* the reply below answers the command of this tag and CRC ... */
    uint8_t answered_tag;
    uint16_t answered_crc;
    uint32_t answered_at;     /* us: ... carried out at this time */

    char out[SC_HEAD + 48 + SC_TAIL]; /* the event being sent */
    uint8_t out_length;
    uint8_t out_sent;
    struct sc_event events[SC_EVENTS];
    uint8_t events_first;
    uint8_t events_waiting;
    uint32_t next_event;
};

void sc_begin(struct sc_board *board, const struct sc_port *port);

/* One turn of the loop: at least every 4 ms, and when a line has come. */
void sc_turn(struct sc_board *board);

/* Inside the core: carries out board->command and writes its reply. */
void sc_carry_out(struct sc_board *board);
void sc_stop(struct sc_board *board, enum sc_stop stop);
void sc_put_stop(struct sc_text *text, enum sc_stop stop);

#endif
