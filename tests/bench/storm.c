/* Feeds the core lines made elsewhere and stops at the first relay that moves without a valid command.
 *
 * Input, for each line: one byte saying whether it is a valid command (1) or not (0), two of length (low first), the
 * bytes without their newline. Built with the address and undefined-behaviour sanitizers. */
#include <stdio.h>
#include <stdlib.h>

#include "native.c"

int main(void) {
    static uint8_t line[65536 + 1];
    struct native *native = native_new(0);
    unsigned long lines = 0, valid = 0, moves = 0;
    int is_valid;
    while ((is_valid = getchar()) != EOF) {
        int low = getchar(), high = getchar();
        size_t count = (size_t)low | (size_t)high << 8;
        uint32_t before = native_driven(native);
        uint16_t refused = native->board.refused;
        const uint8_t *out;
        if (fread(line, 1, count, stdin) != count) return 2;
        line[count] = '\n';
        native_run(native, line, (uint32_t)count + 1, 250);
        while (native->board.waiting) native_run(native, line, 0, 250);
        native_take(native, &out);
        lines++;
        valid += is_valid == 1;
        if (native_driven(native) != before) {
            moves++;
            /* The board may always open by itself: the host may have been silent. */
            if (is_valid != 1 && (native_driven(native) & ~before)) return printf("a relay closed on line %lu\n", lines), 1;
            if (is_valid != 1 && native->board.relays.stop == SC_STOP_NONE)
                return printf("a relay moved on line %lu\n", lines), 1;
        }
        if ((native->board.refused != refused) == (is_valid == 1))
            return printf("line %lu was %s\n", lines, is_valid == 1 ? "refused" : "taken"), 1;
    }
    printf("%lu %lu %lu\n", lines, valid, moves);
    native_free(native);
    return 0;
}
