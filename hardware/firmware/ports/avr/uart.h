#ifndef SC_UART_H
#define SC_UART_H

#include <stdbool.h>
#include <stdint.h>

void uart_begin(void);
bool uart_receive(void *context, uint8_t *byte);
uint8_t uart_send(void *context, const char *bytes, uint8_t count);
bool uart_pressing(void); /* a line's end has come, or much without one */

#endif
