#include "uart.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include "pins.h"

#ifndef BAUD
#define BAUD 250000UL
#endif
#define DIVISOR ((F_CPU + 4 * BAUD) / (8 * BAUD))
/* Both ends may be off; a byte of ten bits stands 5 % in all. */
#if F_CPU / (8 * DIVISOR) * 1000 > BAUD * 1022 || F_CPU / (8 * DIVISOR) * 1000 < BAUD * 978
#error "this baud rate is over 2.2 % off"
#endif

enum { RECEIVED = 128, SENDING = 64 }; /* powers of two; RECEIVED over the longest line */
static volatile uint8_t received[RECEIVED], received_head, received_tail;
static volatile bool pressing;
static volatile uint8_t sending[SENDING], sending_head, sending_tail;

ISR(RECEIVED_VECTOR) {
    bool damaged = UCSR0A & (_BV(FE0) | _BV(DOR0));
    uint8_t byte = UDR0;
    uint8_t next = (uint8_t)((received_head + 1) & (RECEIVED - 1));
    received[received_head] = damaged ? 0 : byte;
    if (next == received_tail) received[received_head] = 0; /* full: the line loses its end, and is refused */
    else received_head = next;
    if (byte == '\n' || (uint8_t)((next - received_tail) & (RECEIVED - 1)) >= RECEIVED / 2) pressing = true;
}

ISR(EMPTY_VECTOR) {
    if (sending_head == sending_tail) {
        UCSR0B &= (uint8_t)~_BV(UDRIE0);
        return;
    }
    UDR0 = sending[sending_tail];
    sending_tail = (uint8_t)((sending_tail + 1) & (SENDING - 1));
}

void uart_begin(void) {
    UCSR0A = _BV(U2X0);
    UBRR0 = DIVISOR - 1;
    UCSR0C = _BV(UCSZ01) | _BV(UCSZ00);
    UCSR0B = _BV(RXEN0) | _BV(TXEN0) | _BV(RXCIE0);
}

bool uart_pressing(void) { return pressing; }

bool uart_receive(void *context, uint8_t *byte) {
    (void)context;
    if (received_head == received_tail) {
        pressing = false;
        if (received_head == received_tail) return false; /* none has come in between */
    }
    *byte = received[received_tail];
    received_tail = (uint8_t)((received_tail + 1) & (RECEIVED - 1));
    return true;
}

uint8_t uart_send(void *context, const char *bytes, uint8_t count) {
    uint8_t taken = 0;
    (void)context;
    for (; taken < count; taken++) {
        uint8_t next = (uint8_t)((sending_head + 1) & (SENDING - 1));
        if (next == sending_tail) break;
        sending[sending_head] = (uint8_t)bytes[taken];
        sending_head = next;
    }
    if (taken > 0) UCSR0B |= _BV(UDRIE0);
    return taken;
}
