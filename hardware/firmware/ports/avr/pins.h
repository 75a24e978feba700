/* Which pin is what; wiring/wiring.toml says the same, and the tests take their pins from there.
 *
 * Relay outputs are active high and held low by 10 kilohm to ground outside the part; inputs are pulled low by a
 * conducting opto-coupler and held high by 10 kilohm to 5 V outside the part (internal pull-ups stay off: they are
 * too weak for the turn-off of the opto-coupler). */
#ifndef SC_PINS_H
#define SC_PINS_H

#include <avr/io.h>

struct pin {
    volatile uint8_t *port;
    uint8_t bit;
};

#if defined(__AVR_ATmega328P__)

#define MODEL "Relay and sense 8x8"
enum { RELAYS = 8, INPUTS = 8, ANALOGS = 0 };
/* Relay 1 .. 8 */
#define RELAY_PINS \
    {&PORTD, 2}, {&PORTD, 3}, {&PORTD, 4}, {&PORTD, 5}, {&PORTD, 6}, {&PORTD, 7}, {&PORTB, 0}, {&PORTB, 1}
#define MASTER_PIN {&PORTB, 2}
#define LIGHT_PIN {&PORTB, 5}

/* Inputs 1 .. 6 are PC0 .. PC5, inputs 7 and 8 are PB3 and PB4. */
#define GROUP_A_VECTOR PCINT1_vect
#define GROUP_A_PINS PINC
#define GROUP_A_MASK 0x3F
#define GROUP_B_VECTOR PCINT0_vect
#define GROUP_B_PINS PINB
#define GROUP_B_MASK 0x18
#define WATCH_GROUPS (PCMSK1 = GROUP_A_MASK, PCMSK0 = GROUP_B_MASK)
#define GROUP_BITS (_BV(PCIE1) | _BV(PCIE0))
static inline uint16_t group_a_inputs(uint8_t pins) { return pins & GROUP_A_MASK; }
static inline uint16_t group_b_inputs(uint8_t pins) { return (uint16_t)((pins & GROUP_B_MASK) << 3); }

#define RECEIVED_VECTOR USART_RX_vect
#define EMPTY_VECTOR USART_UDRE_vect

#else

#define MODEL "Relay and sense 16x16"
enum { RELAYS = 16, INPUTS = 16, ANALOGS = 4 };
/* Relay 1 .. 16 */
#define RELAY_PINS \
    {&PORTA, 0}, {&PORTA, 1}, {&PORTA, 2}, {&PORTA, 3}, {&PORTA, 4}, {&PORTA, 5}, {&PORTA, 6}, {&PORTA, 7}, \
        {&PORTC, 0}, {&PORTC, 1}, {&PORTC, 2}, {&PORTC, 3}, {&PORTC, 4}, {&PORTC, 5}, {&PORTC, 6}, {&PORTC, 7}
#define MASTER_PIN {&PORTL, 0}
#define LIGHT_PIN {&PORTL, 1}

/* Inputs 1 .. 8 are PK0 .. PK7, inputs 9 .. 15 are PB0 .. PB6 and input 16 is PE4 (by INT4). */
#define GROUP_A_VECTOR PCINT2_vect
#define GROUP_A_PINS PINK
#define GROUP_A_MASK 0xFF
#define GROUP_B_VECTOR PCINT0_vect
#define GROUP_B_PINS PINB
#define GROUP_B_MASK 0x7F
#define GROUP_C_VECTOR INT4_vect
#define GROUP_C_PINS PINE
#define GROUP_C_MASK 0x10
#define WATCH_GROUPS (PCMSK2 = GROUP_A_MASK, PCMSK0 = GROUP_B_MASK, EICRB = _BV(ISC40))
#define GROUP_BITS (_BV(PCIE2) | _BV(PCIE0))
static inline uint16_t group_a_inputs(uint8_t pins) { return pins; }
static inline uint16_t group_b_inputs(uint8_t pins) { return (uint16_t)((uint16_t)(pins & GROUP_B_MASK) << 8); }
static inline uint16_t group_c_inputs(uint8_t pins) { return pins & GROUP_C_MASK ? 0x8000u : 0; }

#define RECEIVED_VECTOR USART0_RX_vect
#define EMPTY_VECTOR USART0_UDRE_vect

#endif
#endif
