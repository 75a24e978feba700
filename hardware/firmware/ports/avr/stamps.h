/* The clock and the samples of the input pins, stamped by timer 1. */
#ifndef SC_STAMPS_H
#define SC_STAMPS_H

#include "board.h"

void stamps_begin(void);
uint64_t stamps_now(void *context);
enum sc_sampled stamps_sample(void *context, uint16_t *pins, uint32_t *at);
bool stamps_pressing(void); /* cannot wait for the tick */

#endif
