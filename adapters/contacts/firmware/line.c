/* SPDX-License-Identifier: MIT */
#include "line.h"

static uint16_t number_taken(struct lines *lines) {
  uint16_t number = lines->number;
  lines->number = number == UINT16_MAX ? 1 : (uint16_t)(number + 1);
  return number;
}

static void wait_in_line(struct lines *lines, uint8_t input, uint16_t number, uint32_t now_ms) {
  uint8_t place = (uint8_t)((lines->first + lines->waiting) % LINE_QUEUE);
  lines->queue[place] = (struct line_waiting){now_ms, number, lines->closed, input};
  lines->waiting++;
}

static void all_levels(struct lines *lines, uint32_t now_ms) {
  wait_in_line(lines, 0, number_taken(lines), now_ms);
  lines->all_ms = now_ms;
  lines->left_out = false;
}

static void changed(struct lines *lines, uint8_t input, uint32_t now_ms) {
  uint16_t number = number_taken(lines);
  if (lines->allowed[input - 1] == 0 || lines->waiting >= LINE_QUEUE - LINE_KEPT) {
    lines->left_out = true;
    return;
  }
  lines->allowed[input - 1]--;
  wait_in_line(lines, input, number, now_ms);
}

static void allow_more(struct lines *lines, uint32_t now_ms) {
  while (now_ms - lines->allowed_ms >= LINE_AGAIN_MS) {
    lines->allowed_ms += LINE_AGAIN_MS;
    for (uint8_t i = 0; i < LINE_INPUTS; i++) {
      if (lines->allowed[i] < LINE_BURST) lines->allowed[i]++;
    }
  }
}

void lines_begin(struct lines *lines, uint16_t closed, uint32_t now_ms) {
  *lines = (struct lines){.closed = closed, .allowed_ms = now_ms};
  for (uint8_t i = 0; i < LINE_INPUTS; i++) lines->allowed[i] = LINE_BURST;
  all_levels(lines, now_ms);
}

void lines_scan(struct lines *lines, uint16_t closed, uint32_t now_ms) {
  uint16_t differs = closed ^ lines->closed;
  lines->closed = closed;
  allow_more(lines, now_ms);
  for (uint8_t input = 1; differs != 0; input++) {
    if (differs & 1) changed(lines, input, now_ms);
    differs >>= 1;
  }
  uint32_t since_ms = now_ms - lines->all_ms;
  bool due = since_ms >= LINE_ALL_MS || (lines->left_out && since_ms >= LINE_REPAIR_MS);
  if (due && lines->waiting < LINE_QUEUE) all_levels(lines, now_ms);
}

/* By subtraction: this chip divides 32 bits so slowly that a number of ten digits would hold up the next scan. */
static char *decimal(char *end, uint32_t value) {
  static const uint32_t tens[] = {1000000000, 100000000, 10000000, 1000000, 100000, 10000, 1000, 100, 10, 1};
  const char *first = end;
  for (uint8_t place = 0; place < 10; place++) {
    char digit = '0';
    while (value >= tens[place]) {
      value -= tens[place];
      digit++;
    }
    if (digit != '0' || end != first || place == 9) *end++ = digit;
  }
  return end;
}

static char *hexadecimal(char *end, uint16_t value) {
  for (uint8_t shift = 16; shift != 0;) {
    shift = (uint8_t)(shift - 4);
    *end++ = "0123456789ABCDEF"[(value >> shift) & 0xF];
  }
  return end;
}

static char sign(uint16_t closed, uint8_t input) {
  return (closed >> (input - 1)) & 1 ? '1' : '0';
}

uint8_t lines_next(struct lines *lines, char *text) {
  if (lines->waiting == 0) return 0;
  const struct line_waiting *next = &lines->queue[lines->first];
  char *end = text;
  *end++ = next->input == 0 ? 'L' : 'C';
  *end++ = ' ';
  end = decimal(end, next->number);
  *end++ = ' ';
  if (next->input == 0) {
    for (uint8_t input = 1; input <= LINE_INPUTS; input++) *end++ = sign(next->closed, input);
  } else {
    end = decimal(end, next->input);
    *end++ = ' ';
    *end++ = sign(next->closed, next->input);
  }
  *end++ = ' ';
  *end++ = '@';
  end = decimal(end, next->at_ms);
  uint16_t check = line_check(text, (uint8_t)(end - text));
  *end++ = ' ';
  *end++ = '*';
  end = hexadecimal(end, check);
  *end++ = '\n';
  lines->first = (uint8_t)((lines->first + 1) % LINE_QUEUE);
  lines->waiting--;
  return (uint8_t)(end - text);
}

uint16_t line_check(const char *text, uint8_t length) {
  uint16_t check = 0xFFFF;
  for (uint8_t i = 0; i < length; i++) {
    /* Eight steps of the division at once: what leaves at the top comes back at bits 12, 5 and 0, twice for its upper
     * half. */
    uint8_t top = (uint8_t)((check >> 8) ^ (uint8_t)text[i]);
    top ^= (uint8_t)(top >> 4);
    check = (uint16_t)((uint16_t)(check << 8) ^ (uint16_t)((uint16_t)top << 12) ^ (uint16_t)((uint16_t)top << 5) ^ top);
  }
  return check;
}
