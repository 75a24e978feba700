/* What the core must be told of the machine; every port has a platform.h with these.
 *
 * SC_FLASH   attribute of tables that never change; empty where constants need no RAM
 * SC_BYTE(p) reads one byte of such a table
 * SC_INT(p)  reads one int16_t of such a table
 * SC_LONG(p) reads one uint32_t of such a table
 * SC_CHANNELS the most relays, and the most inputs, that a board can have; bound 1 to 16
 * SC_EVENTS   events that may wait to be sent; bound 2 to 255; a later one is lost and shows as a gap */
#ifndef SC_PLATFORM_H
#define SC_PLATFORM_H

#define SC_FLASH
#define SC_BYTE(p) (*(const uint8_t *)(p))
#define SC_INT(p) (*(const int16_t *)(p))
#define SC_LONG(p) (*(const uint32_t *)(p))
#define SC_CHANNELS 16
#define SC_EVENTS 32

#endif
