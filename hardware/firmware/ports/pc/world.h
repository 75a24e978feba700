/* What is wired to the PC's board: relays, call wires, mains at 60 Hz. */
#ifndef SC_WORLD_H
#define SC_WORLD_H

#include <stdbool.h>
#include <stdint.h>

#include "board.h"
#include "faults.h"

struct world {
    const struct faults *faults;
    uint64_t random;
    uint64_t sampled;         /* us: up to where the pins have been handed on */
    uint16_t pins;            /* as handed on last */
    uint16_t closed;          /* relays whose contacts are made */
    uint16_t welded;          /* relays that will not open any more */
    bool master;
    uint16_t fed;             /* inputs that are live by command */
    uint8_t wire[16];         /* input, from 1, on the call wire of each relay; 0: none */
    uint16_t driven;          /* as the board drives its outputs; contacts follow after OPERATE_US */
    bool master_driven;
    uint64_t follow_at;       /* us; 0: contacts are where they should be */
    uint16_t millivolts[16];
};

enum { OPERATE_US = 8000 };

void world_drive(struct world *world, uint16_t closed, bool master, uint64_t now);
enum sc_sampled world_sample(struct world *world, uint16_t *pins, uint32_t *at, uint64_t now);

#endif
