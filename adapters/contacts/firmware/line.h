/* SPDX-License-Identifier: MIT
 *
 * The text lines of a box with inputs: levels and the time go in, lines come out. No pin, port or clock is touched
 * here. fixtures/README.md of Festoon has the format ("Text line of a box with inputs").
 *
 * Every change that is seen takes a number, and so does every line with all levels. A change that cannot be sent is
 * left out whole, its number with it: the reader sees that something is missing. A line with all levels follows soon
 * and makes it good. So the scan never waits, and no line says a level that was not there.
 */
#ifndef LINE_H
#define LINE_H

#include <stdbool.h>
#include <stdint.h>

enum {
  /* The pins of main_avr.c. The levels fit 16 bits. */
  LINE_INPUTS = 12,
  /* The longest is "L 65535 ", 12 levels, " @4294967295 *FFFF" and the line feed: 39 bytes. */
  LINE_ROOM = 39,
  /* Changes of one input that may follow at once. Chosen: a bounce of the longest usual length, 6.2 ms (J. Ganssle,
   * "A guide to debouncing"), shows at most 7 to a scan of 1 ms; and one to spare. */
  LINE_BURST = 8,
  /* And one more of each input in this time: 20 a second. Chosen: a motor, a lamp or a douser never does that. */
  LINE_AGAIN_MS = 50,
  /* A line with all levels as often as this. Chosen: the format asks for one a second, also where it has to wait
   * behind all changes that there is room for, which is 538 ms at 57600 baud. */
  LINE_ALL_MS = 400,
  /* And as soon as this after the last one where a change was left out. Chosen. */
  LINE_REPAIR_MS = 50,
  /* Room that changes leave free, so that a line with all levels always comes next. Chosen. */
  LINE_KEPT = 4,
  /* From rest, a burst of every input at once has room. */
  LINE_QUEUE = LINE_INPUTS * LINE_BURST + LINE_KEPT,
};

/* A line that waits: what it says was so at `at_ms`. `input` is 0 where it has all levels. */
struct line_waiting {
  uint32_t at_ms;
  uint16_t number;
  uint16_t closed;
  uint8_t input;
};

/* All that is kept. `closed` has one bit for each input, here and below: the lowest is input 1, and 1 is closed. Bits
 * above the last input are 0. */
struct lines {
  struct line_waiting queue[LINE_QUEUE];
  uint8_t first;
  uint8_t waiting;
  uint16_t number; /* of the next line */
  uint16_t closed; /* as scanned last */
  uint32_t all_ms; /* when the last line with all levels was made */
  uint32_t allowed_ms;
  uint8_t allowed[LINE_INPUTS];
  bool left_out; /* a change, since the last line with all levels */
};

/* Power-up: the levels as they are at `now_ms` are the first line, number 0. */
void lines_begin(struct lines *lines, uint16_t closed, uint32_t now_ms);

/* The levels as they are at `now_ms`, of a clock that turns over at 2^32. Call it once a millisecond. */
void lines_scan(struct lines *lines, uint16_t closed, uint32_t now_ms);

/* Write the next line into LINE_ROOM bytes, with its line feed and without a 0 at its end. Its length; 0: none waits. */
uint8_t lines_next(struct lines *lines, char *text);

/* CRC-16 with the polynomial of ITU-T V.41 (0x1021), from 0xFFFF, not reflected, not inverted. */
uint16_t line_check(const char *text, uint8_t length);

#endif
